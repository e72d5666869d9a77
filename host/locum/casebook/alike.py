"""Cases that are alike: by component, signature and cause, and what they turned out to be."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from locum.casebook.records import Hit
from locum.casebook.shelf import Shelf
from locum.casebook.snippets import one_line
from locum.casebook.synonyms import folded
from locum.casebook.traits import Trait

FEWEST_SIMILAR = 5
"""Below this, shares of similar cases say nothing and are not shown."""


@dataclass(frozen=True)
class Criteria:
    """What similar cases have in common. ``None`` or empty: anything."""

    family: str = ""
    component: str = ""
    cause: str = ""
    towards: str = ""
    """``cold`` or ``hot``."""
    threshold_c: tuple[float, float] | None = None
    """Overlaps the threshold found, lower to upper."""
    length_ms: tuple[float, float] | None = None
    """Overlaps the lengths of glitches, shortest to longest."""
    after_minutes: tuple[float, float] | None = None
    """When it shows: minutes after start."""


@dataclass(frozen=True)
class Similar:
    """Similar cases that ended with a cause found, and what it was."""

    n: int
    causes: tuple[tuple[str, int], ...]
    """Cause and number of cases, most frequent first."""
    without_cause: int
    """Similar cases in which nothing was found; they are told too, or only successes would count."""
    limits: tuple[tuple[float, float], ...] = field(default=())
    """Exact 95 % limits of each share."""

    @property
    def sentence(self) -> str:
        """One sentence with n and limits; empty below ``FEWEST_SIMILAR``."""
        if self.n < FEWEST_SIMILAR:
            return ""
        parts = [
            f"{count} {cause} ({low:.0%} to {high:.0%})".replace("%", " %")
            for (cause, count), (low, high) in zip(self.causes, self.limits, strict=True)
        ]
        rest = f"; {self.without_cause} more ended without a cause found" * bool(self.without_cause)
        return (
            f"Of {self.n} similar cases with a cause found: {', '.join(parts)} "
            f"(in brackets the exact 95 % limits of each share){rest}."
        )


class AlikeShelf(Shelf):
    """Reads ``trait``."""

    def find_like(self, criteria: Criteria, limit: int = 20, offset: int = 0) -> list[Hit]:
        """Cases that agree with all criteria, newest first."""
        ids = self._alike(criteria)[offset : offset + limit]
        places = ",".join("?" * len(ids))
        rows = self.db.rows(
            "SELECT case_id, title, substr(words, 1, 120) AS words FROM case_words "
            f"WHERE case_id IN ({places}) ORDER BY case_id DESC",
            ids,
        )
        return [Hit(row["case_id"], row["title"], one_line(row["words"])) for row in rows]

    def _alike(self, criteria: Criteria) -> list[str]:
        clauses, values = [], []
        for kind in ("family", "component", "cause", "towards"):
            word = folded(getattr(criteria, kind)).strip()
            if word:
                clauses.append(
                    "SELECT case_id FROM trait WHERE kind = ? AND instr(' ' || word, ' ' || ?)"
                )
                values.extend((kind, word))
        for kind in ("threshold_c", "length_ms", "after_minutes"):
            span = getattr(criteria, kind)
            if span:
                clauses.append(
                    "SELECT case_id FROM trait WHERE kind = ? AND low <= ? AND high >= ?"
                )
                values.extend((kind, span[1], span[0]))
        if not clauses:
            clauses = ["SELECT id AS case_id FROM cases"]
        rows = self.db.rows(" INTERSECT ".join(clauses) + " ORDER BY case_id DESC", values)
        return [row[0] for row in rows]

    def criteria_of(self, case_id: str, *, with_family: bool = False) -> Criteria:
        """What this case would be compared by: component and signature, widened a little."""
        traits = {trait.kind: trait for trait in self._traits(case_id)}

        def word(kind: str) -> str:
            return traits[kind].word if kind in traits else ""

        def span(kind: str, less: float, more: float) -> tuple[float, float] | None:
            trait = traits.get(kind)
            if trait is None or trait.low is None or trait.high is None:
                return None
            return trait.low - less, trait.high + more

        return Criteria(
            family=word("family") if with_family else "",
            component=word("component"),
            towards=word("towards"),
            threshold_c=span("threshold_c", 5.0, 5.0),
            length_ms=span("length_ms", 0.0, 0.0),
        )

    def similar(self, criteria: Criteria, *, leave_out: str = "") -> Similar:
        """What cases like this turned out to be."""
        ids = [ident for ident in self._alike(criteria) if ident != leave_out]
        wanted = set(ids)
        rows = self.db.rows("SELECT case_id, word FROM trait WHERE kind = 'cause'")
        causes = Counter(row["word"] for row in rows if row["case_id"] in wanted)
        n = causes.total()
        ranked = tuple(sorted(causes.items(), key=lambda item: (-item[1], item[0])))
        limits = tuple(share_limits(count, n) for _, count in ranked) if n else ()
        return Similar(n, ranked, len(ids) - n, limits)

    def _traits(self, case_id: str) -> list[Trait]:
        rows = self.db.rows("SELECT * FROM trait WHERE case_id = ?", (case_id,))
        return [Trait(row["kind"], row["word"], row["low"], row["high"]) for row in rows]


def share_limits(count: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact two-sided limits of a share ``count / n`` (Clopper and Pearson 1934).

    Stands here as well as in the verdict, because a store may not lean on the verdict.
    """
    from scipy.special import betaincinv

    tail = (1.0 - confidence) / 2.0
    low = float(betaincinv(count, n - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, n - count, 1.0 - tail)) if count < n else 1.0
    return low, high
