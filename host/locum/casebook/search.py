"""Search by words with synonyms: with FTS5 where SQLite has it, else with LIKE."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from locum.casebook.alike import AlikeShelf
from locum.casebook.records import Hit
from locum.casebook.snippets import one_line, snippet
from locum.casebook.synonyms import Phrase, Synonyms
from locum.casebook.word_index import WordIndex

MOST_RANKED = 300
"""Above this, ranking says little and takes longer than a person wants to wait."""


class SearchShelf(WordIndex, AlikeShelf):
    """Finds cases by words."""

    synonyms: Synonyms

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
        return [Hit(row["case_id"], row["title"], one_line(row["words"])) for row in rows]

    def _by_id(self, start: str) -> list[Hit]:
        if len(start) < 6 or not start.isalnum() or not start.isascii():
            return []
        rows = self.db.rows(
            "SELECT case_id, title, substr(words, 1, 120) AS words FROM case_words "
            "WHERE case_id >= ? AND case_id < ? LIMIT 5",
            (start, start + "~"),
        )
        return [Hit(row["case_id"], row["title"], one_line(row["words"])) for row in rows]

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


def _hit(row: sqlite3.Row, terms: Sequence[Sequence[Phrase]]) -> Hit:
    return Hit(row["case_id"], row["title"], snippet(row["words"], terms))
