"""Search: by words with synonyms, by traits, and what similar cases turned out to be.

Words are looked for with FTS5 where SQLite has it, else with LIKE. The FTS table is only an index
over ``case_words``: it is made when first opened with FTS5, and made again if a program without
FTS5 has written meanwhile.
"""

from __future__ import annotations

import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from locum.casebook.records import Case, Finding, Hit
from locum.casebook.shelf import Shelf
from locum.casebook.synonyms import Phrase, Synonyms, folded
from locum.casebook.traits import WORDS_VERSION, Trait, traits_of, words_of

FEWEST_SIMILAR = 5
"""Below this, shares of similar cases say nothing and are not shown."""
MOST_RANKED = 300
"""Above this, ranking says little and takes longer than a person wants to wait."""
_FTS = (
    "CREATE VIRTUAL TABLE IF NOT EXISTS case_fts USING fts5(title, words, content='case_words', "
    "content_rowid='number', tokenize='porter unicode61 remove_diacritics 2', prefix='2 3')"
)


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


class SearchShelf(Shelf):
    """Owns ``case_words``, ``trait`` and the index over them."""

    synonyms: Synonyms
    has_fts: bool
    case: Callable[[str], Case]
    findings: Callable[..., list[Finding]]

    def find(self, words: str, limit: int = 20, offset: int = 0) -> list[Hit]:
        """Cases in which every term of ``words`` (or a synonym of it) occurs, best first; where
        very many match, newest first.

        An id, or its beginning of at least six characters, finds its case as well. Nothing typed
        gives the newest cases.
        """
        terms = self.synonyms.alternatives(words)
        if not terms:
            return self._newest(limit, offset)
        by_id = self._by_id(words.strip().upper()) if offset == 0 else []
        look = self._find_fts if self.has_fts else self._find_like
        hits = [hit for hit in look(terms, limit, offset) if hit.id not in {h.id for h in by_id}]
        return (by_id + hits)[:limit]

    def _newest(self, limit: int, offset: int) -> list[Hit]:
        rows = self.db.rows(
            "SELECT case_id, title, substr(words, 1, 120) AS words FROM case_words "
            "ORDER BY case_id DESC LIMIT ? OFFSET ?",
            (limit, offset),
        )
        return [Hit(row["case_id"], row["title"], _one_line(row["words"])) for row in rows]

    def _by_id(self, start: str) -> list[Hit]:
        if len(start) < 6 or not start.isalnum() or not start.isascii():
            return []
        rows = self.db.rows(
            "SELECT case_id, title, substr(words, 1, 120) AS words FROM case_words "
            "WHERE case_id >= ? AND case_id < ? LIMIT 5",
            (start, start + "~"),
        )
        return [Hit(row["case_id"], row["title"], _one_line(row["words"])) for row in rows]

    def _find_fts(self, terms: list[list[Phrase]], limit: int, offset: int) -> list[Hit]:
        question = " AND ".join(
            "(" + " OR ".join(f'"{" ".join(phrase)}"*' for phrase in term) + ")" for term in terms
        )
        many = self.db.rows(
            "SELECT 1 FROM case_fts WHERE case_fts MATCH ? LIMIT 1 OFFSET ?",
            (question, MOST_RANKED),
        )
        order = "case_fts.rowid DESC" if many else "bm25(case_fts, 4.0, 1.0), case_fts.rowid DESC"
        numbers = [
            row[0]
            for row in self.db.rows(
                f"SELECT rowid FROM case_fts WHERE case_fts MATCH ? ORDER BY {order} "
                "LIMIT ? OFFSET ?",
                (question, limit, offset),
            )
        ]
        places = ",".join("?" * len(numbers))
        rows = self.db.rows(f"SELECT * FROM case_words WHERE number IN ({places})", numbers)
        found = {row["number"]: row for row in rows}
        return [_hit(found[number], terms) for number in numbers if number in found]

    def _find_like(self, terms: list[list[Phrase]], limit: int, offset: int) -> list[Hit]:
        where, values = [], []
        for term in terms:
            where.append("(" + " OR ".join("instr(plain, ?)" for _ in term) + ")")
            values.extend(" ".join(phrase) for phrase in term)
        rows = self.db.rows(
            "SELECT case_id, title, words FROM (SELECT *, folded(title || ' ' || words) AS plain "
            f"FROM case_words) WHERE {' AND '.join(where)} ORDER BY case_id DESC LIMIT ? OFFSET ?",
            (*values, limit, offset),
        )
        return [_hit(row, terms) for row in rows]

    # By traits ------------------------------------------------------------------------------

    def find_like(self, criteria: Criteria, limit: int = 20, offset: int = 0) -> list[Hit]:
        """Cases that agree with all criteria, newest first."""
        ids = self._alike(criteria)[offset : offset + limit]
        places = ",".join("?" * len(ids))
        rows = self.db.rows(
            "SELECT case_id, title, substr(words, 1, 120) AS words FROM case_words "
            f"WHERE case_id IN ({places}) ORDER BY case_id DESC",
            ids,
        )
        return [Hit(row["case_id"], row["title"], _one_line(row["words"])) for row in rows]

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

    # Keeping the index ------------------------------------------------------------------------

    def ready_search(self) -> None:
        """Make the index usable: create it, or make it again where it is missing or stale."""
        self.db.connection.create_function("folded", 1, folded, deterministic=True)
        self.has_fts = self._has_fts()
        if self.db.read_only:
            self.has_fts = self.has_fts and self._about("words_index") == "fresh"
            return
        if self._about("words_version") != WORDS_VERSION:
            self.index_anew()
        elif self.has_fts and self._about("words_index") != "fresh":
            with self.db.transaction() as connection:
                self._rebuild_fts(connection)

    def _has_fts(self) -> bool:
        try:
            self.db.connection.execute("CREATE VIRTUAL TABLE temp.probe USING fts5(x)")
            self.db.connection.execute("DROP TABLE temp.probe")
        except sqlite3.Error:
            return False
        return True

    def index_anew(self) -> None:
        """Make words, traits and index of all cases again."""
        with self.db.transaction() as connection:
            connection.execute("DELETE FROM trait")
            connection.execute("DELETE FROM case_words")
            for (case_id,) in connection.execute("SELECT id FROM cases ORDER BY id").fetchall():
                self._write_words(connection, case_id, index=False)
            self._rebuild_fts(connection)
            self._set_about(connection, "words_version", WORDS_VERSION)

    def _rebuild_fts(self, connection: sqlite3.Connection) -> None:
        if not self.has_fts:
            self._set_about(connection, "words_index", "stale")
            return
        connection.execute(_FTS)
        connection.execute("INSERT INTO case_fts(case_fts) VALUES ('rebuild')")
        self._set_about(connection, "words_index", "fresh")

    def words_changed(self, case_id: str) -> None:
        connection = self.db.connection
        self._write_words(connection, case_id, index=self.has_fts)
        if not self.has_fts:
            self._set_about(connection, "words_index", "stale")

    def _write_words(self, connection: sqlite3.Connection, case_id: str, index: bool) -> None:
        case, findings = self.case(case_id), self.findings(case_id)
        notes = [
            row["note"]
            for row in self.db.rows(
                "SELECT note FROM mark JOIN drive ON drive.id = drive_id WHERE case_id = ?",
                (case_id,),
            )
        ]
        words = words_of(case, findings, notes)
        old = connection.execute(
            "SELECT number, title, words FROM case_words WHERE case_id = ?", (case_id,)
        ).fetchone()
        if old is None:
            number = connection.execute(
                "INSERT INTO case_words (case_id, title, words) VALUES (?, ?, ?)",
                (case_id, case.title, words),
            ).lastrowid
        else:
            number = old["number"]
            if index:
                connection.execute(
                    "INSERT INTO case_fts(case_fts, rowid, title, words) "
                    "VALUES ('delete', ?, ?, ?)",
                    tuple(old),
                )
            connection.execute(
                "UPDATE case_words SET title = ?, words = ? WHERE number = ?",
                (case.title, words, number),
            )
        if index:
            connection.execute(
                "INSERT INTO case_fts(rowid, title, words) VALUES (?, ?, ?)",
                (number, case.title, words),
            )
        self._write_traits(connection, case_id, traits_of(case, findings))

    def _write_traits(
        self, connection: sqlite3.Connection, case_id: str, traits: Iterable[Trait]
    ) -> None:
        connection.execute("DELETE FROM trait WHERE case_id = ?", (case_id,))
        connection.executemany(
            "INSERT INTO trait VALUES (?, ?, ?, ?, ?)",
            [(case_id, trait.kind, trait.word, trait.low, trait.high) for trait in traits],
        )

    def _traits(self, case_id: str) -> list[Trait]:
        rows = self.db.rows("SELECT * FROM trait WHERE case_id = ?", (case_id,))
        return [Trait(row["kind"], row["word"], row["low"], row["high"]) for row in rows]

    def _about(self, key: str) -> str:
        row = self.db.row("SELECT value FROM about WHERE key = ?", (key,))
        return row[0] if row else ""

    def _set_about(self, connection: sqlite3.Connection, key: str, value: str) -> None:
        connection.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (key, value))


def share_limits(count: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact two-sided limits of a share ``count / n`` (Clopper and Pearson 1934).

    Stands here as well as in the verdict, because a store may not lean on the verdict.
    """
    from scipy.special import betaincinv

    tail = (1.0 - confidence) / 2.0
    low = float(betaincinv(count, n - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, n - count, 1.0 - tail)) if count < n else 1.0
    return low, high


def _one_line(text: Any) -> str:
    return " · ".join(part.strip() for part in str(text).splitlines() if part.strip())


def _hit(row: sqlite3.Row, terms: Sequence[Sequence[Phrase]]) -> Hit:
    return Hit(row["case_id"], row["title"], snippet(row["words"], terms))


def snippet(words: str, terms: Sequence[Sequence[Phrase]]) -> str:
    """Some words around the first match, every match in square brackets.

    Matches are sought in the folded text; where folding changes its length (accents written
    apart), positions do not carry over and the beginning is shown instead.
    """
    plain = folded(words)
    if len(plain) != len(words):
        return _one_line(words[:120])
    phrases = sorted({r"[\W_]+".join(map(re.escape, phrase)) for term in terms for phrase in term})
    # Longer expressions first; a match is shown to its word's end, as the index finds beginnings.
    either = "|".join(sorted(phrases, key=len, reverse=True))
    spans = [match.span() for match in re.finditer(rf"\b(?:{either})\w*", plain)]
    if not spans:
        return _one_line(words[:120])
    start, end = max(spans[0][0] - 50, 0), spans[0][0] + 90
    out, at = ["…" if start else ""], start
    for low, high in spans:
        if low >= at and high <= end:
            out += [words[at:low], "[", words[low:high], "]"]
            at = high
    return _one_line("".join([*out, words[at:end], "…" if end < len(words) else ""]))
