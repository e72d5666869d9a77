"""The index that search looks into: words and traits of every case, kept as cases change.

The FTS table is only an index over ``case_words``: it is made when first opened with FTS5, and made
again if a program without FTS5 has written meanwhile.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable

from locum.casebook.records import Case, Finding
from locum.casebook.shelf import Shelf
from locum.casebook.synonyms import folded
from locum.casebook.traits import WORDS_VERSION, Trait, traits_of, words_of

_FTS = (
    "CREATE VIRTUAL TABLE IF NOT EXISTS case_fts USING fts5(title, words, content='case_words', "
    "content_rowid='number', tokenize='porter unicode61 remove_diacritics 2', prefix='2 3')"
)


class WordIndex(Shelf):
    """Owns ``case_words``, ``trait`` and the index over them."""

    has_fts: bool
    case: Callable[[str], Case]
    findings: Callable[..., list[Finding]]

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
        """Bring the index up to date with a case that changed."""
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

    def _about(self, key: str) -> str:
        row = self.db.row("SELECT value FROM about WHERE key = ?", (key,))
        return row[0] if row else ""

    def _set_about(self, connection: sqlite3.Connection, key: str, value: str) -> None:
        connection.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (key, value))
