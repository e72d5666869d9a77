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
    slack: float = 0.0
    """By how much a sample of this size may pass the limit by chance."""

    @property
    def kept(self) -> bool:
        if self.at_least:
            return self.value >= self.limit - self.slack
        return self.value <= self.limit + self.slack

    def __str__(self) -> str:
        sign = ">=" if self.at_least else "<="
        chance = f" (by chance {self.slack:.2g} beyond)" if self.slack else ""
        word = "kept  " if self.kept else "MISSED"
        return f"{word} {self.name}: {self.value:.4g} {sign} {self.limit:g}{chance}"


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
