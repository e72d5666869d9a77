"""A table of results and the limits it must keep, as every benchmark here returns and prints it."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Limit:
    """One number and what it may be."""

    name: str
    value: float
    limit: float
    at_least: bool = False
    """The value must be at least the limit instead of at most."""

    @property
    def kept(self) -> bool:
        return self.value >= self.limit if self.at_least else self.value <= self.limit

    def __str__(self) -> str:
        sign = ">=" if self.at_least else "<="
        return f"{'kept  ' if self.kept else 'MISSED'} {self.name}: {self.value:.4g} {sign} {self.limit:g}"


@dataclass
class Table:
    """Rows of text under a title."""

    title: str
    header: tuple[str, ...]
    rows: list[tuple[str, ...]]
    limits: list[Limit] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        widths = [
            max(len(row[i]) for row in [self.header, *self.rows]) for i in range(len(self.header))
        ]
        lines = [self.title]
        for row in [self.header, *self.rows]:
            first, *rest = (
                cell.ljust(width) if i == 0 else cell.rjust(width)
                for i, (cell, width) in enumerate(zip(row, widths, strict=True))
            )
            lines.append("  " + "  ".join([first, *rest]).rstrip())
        lines += [f"  {note}" for note in self.notes]
        lines += [f"  {limit}" for limit in self.limits]
        return "\n".join(lines)
