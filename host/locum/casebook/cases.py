"""Cases: what was known at the start, every later change laid over it, and what came out."""

from __future__ import annotations

from typing import Any

from locum.casebook import jsontext
from locum.casebook.identity import IdentityShelf, apart
from locum.casebook.records import Case, Change
from locum.casebook.shelf import body_and_crc, no_such
from locum.errors import Refused, Remark

KNOWN_FIELDS = {
    "title": "one line to know the case by",
    "workshop": "who keeps this casebook",
    "technician": "who works on the case",
    "vehicle": "table: make, model, family, year, market, engine, transmission, module_part, "
    "software, odometer_km",
    "component": "what is suspected, such as 'coolant sensor circuit'",
    "complaint": "table: words (the customer's own), symptom, conditions, since, account",
    "rule": "table: what makes time count (minutes_after_start, above_c, below_c, above_km_h, state)",
    "tap": "table: where the board sits (end, pins, colours, polarity, ground)",
    "module_readings": "table: meter readings at the module, name to value or {value, unit, note}",
    "sensor_readings": "table: meter readings of the sensor, the same",
    "replaced_before": "what was changed earlier, by whom",
    "what_else_changed": "anything else done while the case was open",
    "criterion": "table: rule that ends the quiet drive, chosen before the repair",
}
"""Fields in use, each with what it holds; others are kept as they come."""


class CaseShelf(IdentityShelf):
    """Owns the tables ``cases`` and ``case_change``."""

    def new_case(self, fields: dict[str, Any], *, author: str = "", case_id: str = "") -> str:
        """Open a case and return its id.

        Identity (``records.IDENTITY_FIELDS``, also inside ``vehicle``) goes to a table of its own
        and appears in no search, page or export unless asked for.
        """
        technical, identity = apart(jsontext.plain(fields))
        case_id = case_id or self.ids.new()
        text, crc = body_and_crc(technical)
        with self.db.transaction() as connection:
            connection.execute(
                "INSERT INTO cases VALUES (?, ?, ?, ?, ?)",
                (case_id, title_of(technical), self.utc(), text, crc),
            )
            self._put_identity(connection, case_id, identity)
            if author:
                self._add_change(connection, case_id, {"technician": author}, author)
            self.words_changed(case_id)
        return case_id

    def change_case(self, case_id: str, fields: dict[str, Any], *, author: str = "") -> None:
        """Lay ``fields`` over the case; tables are laid over key by key, ``None`` takes back.

        What was there stays in the history with its author and date.
        """
        technical, identity = apart(jsontext.plain(fields))
        with self.db.transaction() as connection:
            self._need_case(case_id)
            self._put_identity(connection, case_id, identity)
            if technical:
                self._add_change(connection, case_id, technical, author)
            self.words_changed(case_id)

    def _add_change(self, connection, case_id: str, fields: dict[str, Any], author: str) -> None:
        text, crc = body_and_crc(fields)
        connection.execute(
            "INSERT INTO case_change VALUES (?, ?, ?, ?, ?, ?)",
            (self.ids.new(), case_id, self.utc(), jsontext.clean(author), text, crc),
        )

    def case(self, case_id: str) -> Case:
        """The case as it stands now. ``Refused`` if there is none of that id."""
        found = self._cases("WHERE cases.id = ?", (case_id,))
        if not found:
            raise no_such("case", case_id)
        return found[0]

    def cases(self, limit: int | None = None, offset: int = 0) -> list[Case]:
        """Cases, newest first; ``limit`` and ``offset`` give one page."""
        window = "ORDER BY cases.id DESC LIMIT ? OFFSET ?"
        return self._cases(window, (-1 if limit is None else limit, offset))

    def case_count(self) -> int:
        """How many cases there are."""
        row = self.db.row("SELECT count(*) FROM cases")
        return int(row[0]) if row else 0

    def _cases(self, rest: str, values: tuple[Any, ...]) -> list[Case]:
        rows = self.db.rows(
            "SELECT id, opened_utc, fields, "
            "(SELECT count(*) FROM drive WHERE case_id = cases.id) AS drives "
            f"FROM cases {rest}",
            values,
        )
        ids = [row["id"] for row in rows]
        changes = self._changes(ids)
        ends = self._ends(ids)
        out = []
        for row in rows:
            fields = jsontext.read(row["fields"])
            for change in changes.get(row["id"], ()):
                fields = laid_over(fields, change.fields)
            out.append(
                Case(
                    row["id"],
                    title_of(fields),
                    row["opened_utc"],
                    ends.get(row["id"]),
                    fields,
                    tuple(changes.get(row["id"], ())),
                    row["drives"],
                )
            )
        return out

    def _changes(self, case_ids: list[str]) -> dict[str, list[Change]]:
        out: dict[str, list[Change]] = {}
        for row in self._of_cases("SELECT * FROM case_change", case_ids):
            change = Change(row["id"], row["at_utc"], row["author"], jsontext.read(row["fields"]))
            out.setdefault(row["case_id"], []).append(change)
        return out

    def _ends(self, case_ids: list[str]) -> dict[str, str | None]:
        """When each case was closed; the newest of closing and reopening counts."""
        out: dict[str, str | None] = {}
        sql = "SELECT * FROM finding"
        for row in self._of_cases(sql, case_ids, "AND kind IN ('closed', 'reopened')"):
            out[row["case_id"]] = row["at_utc"] if row["kind"] == "closed" else None
        return out

    def _of_cases(self, sql: str, case_ids: list[str], rest: str = ""):
        """Rows of these cases in the order they were made, asked for a few hundred at a time."""
        for start in range(0, len(case_ids), 400):
            some = case_ids[start : start + 400]
            places = ",".join("?" * len(some))
            yield from self.db.rows(f"{sql} WHERE case_id IN ({places}) {rest} ORDER BY id", some)

    def case_id_from(self, start: str) -> str:
        """The one case whose id starts (or ends) with ``start``, for typing by hand."""
        return self._one_id("cases", "case", start)

    def drive_id_from(self, start: str) -> str:
        """The one drive whose id starts (or ends) with ``start``, for typing by hand."""
        return self._one_id("drive", "drive", start)

    def _one_id(self, table: str, what: str, start: str) -> str:
        wanted = start.strip().upper()
        rows = self.db.rows(
            f"SELECT id FROM {table} WHERE substr(id, 1, :n) = :x OR substr(id, -:n) = :x LIMIT 3",
            {"x": wanted, "n": len(wanted)},
        )
        if not wanted or not rows:
            raise no_such(what, start)
        if len(rows) > 1:
            raise Refused(
                Remark(
                    "ambiguous_id",
                    "",
                    f"one {what}",
                    f"several whose ids begin or end with '{start}'",
                    "type more characters",
                )
            )
        return rows[0]["id"]


def title_of(fields: dict[str, Any]) -> str:
    """The title given, or one made of vehicle and complaint."""
    title = str(fields.get("title") or "").strip()
    if title:
        return title
    vehicle = fields.get("vehicle")
    vehicle = vehicle if isinstance(vehicle, dict) else {}
    complaint = fields.get("complaint")
    words = complaint.get("words") if isinstance(complaint, dict) else complaint
    parts = [
        str(vehicle.get("family") or vehicle.get("model") or "").strip(),
        str(words or fields.get("component") or "").strip(),
    ]
    return ": ".join(part for part in parts if part)[:120] or "case without a title"


def laid_over(fields: dict[str, Any], change: dict[str, Any]) -> dict[str, Any]:
    """``change`` laid over ``fields``: tables key by key, ``None`` takes a field away."""
    out = dict(fields)
    for key, value in change.items():
        old = out.get(key)
        if value is None:
            out.pop(key, None)
        elif isinstance(value, dict) and isinstance(old, dict):
            out[key] = laid_over(old, value)
        else:
            out[key] = value
    return out
