"""Findings: what was concluded, found, done and heard later; appended, never overwritten."""

from __future__ import annotations

from typing import Any

from locum.casebook import jsontext
from locum.casebook.records import (
    HAND_BACK_ITEMS,
    Finding,
    FollowedUp,
    HandBackItem,
    StoredCalibration,
)
from locum.casebook.shelf import Shelf, body_and_crc
from locum.errors import Refused, Remark


class FindingShelf(Shelf):
    """Owns ``finding`` and ``calibration``."""

    def add_finding(self, case_id: str, kind: str, body: dict[str, Any], author: str = "") -> str:
        """Append to a case; the finding's id."""
        ident = self.ids.new()
        text, crc = body_and_crc(body)
        with self.db.transaction() as connection:
            self._need_case(case_id)
            connection.execute(
                "INSERT INTO finding VALUES (?, ?, ?, ?, ?, ?, ?)",
                (ident, case_id, kind, self.utc(), jsontext.clean(author), text, crc),
            )
            self.words_changed(case_id)
        return ident

    def findings(self, case_id: str, kind: str | None = None) -> list[Finding]:
        """Findings of a case, oldest first, all or of one kind."""
        rows = self.db.rows(
            "SELECT * FROM finding WHERE case_id = ? AND (? IS NULL OR kind = ?) ORDER BY id",
            (case_id, kind, kind),
        )
        return [
            Finding(
                row["id"],
                row["case_id"],
                row["kind"],
                row["at_utc"],
                row["author"],
                jsontext.read(row["body"]),
            )
            for row in rows
        ]

    def close_case(self, case_id: str, *, author: str = "", why: str = "") -> str:
        """Close a case, saying why; the finding's id."""
        return self.add_finding(case_id, "closed", {"why": why}, author)

    def reopen_case(self, case_id: str, *, author: str = "", why: str = "", see: str = "") -> str:
        """Open again, as after a comeback; ``see`` links another case."""
        return self.add_finding(case_id, "reopened", {"why": why, "see": see}, author)

    # Hand-back and follow-up ------------------------------------------------------------------

    def tick_hand_back(
        self, case_id: str, item: str, *, done: bool = True, author: str = "", note: str = ""
    ) -> None:
        """Tick one line of the hand-back list; for ``follow_up_set`` the note is the date."""
        if item not in HAND_BACK_ITEMS:
            raise Refused(
                Remark(
                    "no_such_hand_back_item",
                    "",
                    "one of " + ", ".join(HAND_BACK_ITEMS),
                    f"'{item}'",
                    "use a name from the list",
                )
            )
        self.add_finding(case_id, "hand_back", {"item": item, "done": done, "note": note}, author)

    def hand_back(self, case_id: str) -> list[HandBackItem]:
        """The whole list; what was never ticked has ``done`` None."""
        newest = {found.body.get("item"): found for found in self.findings(case_id, "hand_back")}
        out = []
        for item, words in HAND_BACK_ITEMS.items():
            found = newest.get(item)
            if found is None:
                out.append(HandBackItem(item, words, None))
            else:
                done, note = bool(found.body.get("done")), str(found.body.get("note", ""))
                out.append(HandBackItem(item, words, done, found.at_utc, found.author, note))
        return out

    def add_follow_up(
        self,
        case_id: str,
        hours: float,
        kick_outs: int,
        *,
        counts: bool = True,
        author: str = "",
        note: str = "",
    ) -> str:
        """A call to the customer: hours driven under the case's rule since, and what was felt.

        ``counts`` is False where the rule was not met, or nobody would have noticed.
        """
        if hours < 0 or kick_outs < 0:
            raise Refused(
                Remark(
                    "follow_up_negative",
                    "",
                    "hours and kick-outs of zero or more",
                    f"{hours:g} h and {kick_outs}",
                    "correct the numbers",
                )
            )
        body = {"hours": float(hours), "kick_outs": int(kick_outs), "counts": counts, "note": note}
        return self.add_finding(case_id, "follow_up", body, author)

    def followed_up(self, case_id: str) -> FollowedUp:
        """What all follow-up calls of a case add to the time that counts."""
        calls = [found.body for found in self.findings(case_id, "follow_up")]
        counted = [body for body in calls if body.get("counts", True)]
        told = sum(float(body.get("hours", 0.0)) for body in calls)
        hours = sum(float(body.get("hours", 0.0)) for body in counted)
        felt = sum(int(body.get("kick_outs", 0)) for body in counted)
        return FollowedUp(hours, felt, len(calls), told - hours)

    # Calibrations -----------------------------------------------------------------------------

    def add_calibration(self, board_serial: str, body: dict[str, Any], meter: str = "") -> str:
        """Keep a board's calibration; earlier ones stay."""
        ident = self.ids.new()
        text, crc = body_and_crc(body)
        with self.db.transaction() as connection:
            connection.execute(
                "INSERT INTO calibration VALUES (?, ?, ?, ?, ?, ?)",
                (ident, board_serial, self.utc(), meter, text, crc),
            )
        return ident

    def calibrations(self, board_serial: str | None = None) -> list[StoredCalibration]:
        """Calibrations, oldest first, of one board or of all."""
        rows = self.db.rows(
            "SELECT * FROM calibration WHERE (? IS NULL OR board_serial = ?) ORDER BY id",
            (board_serial, board_serial),
        )
        return [
            StoredCalibration(
                row["id"],
                row["board_serial"],
                row["made_utc"],
                row["meter"],
                jsontext.read(row["body"]),
            )
            for row in rows
        ]

    def calibration(self, board_serial: str) -> StoredCalibration | None:
        """The newest calibration of a board."""
        found = self.calibrations(board_serial)
        return found[-1] if found else None
