"""Kick-outs and glitches beside each other: a moment a row, time downwards, recording by recording.

What belongs together stands in one row with the time between; what stands alone has the other side
empty. A moment with a glitch can be chosen, to be kept as a profile.
"""

from __future__ import annotations

from locum.jobs.evidence_view import EvidenceView, MomentRow
from locum.ui.evidence_text import MOMENTS_HEAD, by_drive, moment_line, moments_sum
from locum.ui.widgets.rows import MARK, Row, Rows

BLANK = " " * len(MARK)
"""Where the mark would stand that says which row is chosen."""
NOTHING = "No kick-out and no glitch has been recorded in this case yet."


class Beside(Rows):
    """The moments of a weighed case."""

    _by_name: dict[str, MomentRow] = {}

    def show_case(self, view: EvidenceView | None) -> None:
        """The moments of this case; nothing without one."""
        if view is None or not view.moments:
            self._by_name = {}
            self.show([Row(NOTHING)] if view is not None else [])
            return
        named = {f"{m.drive_id} {m.number}": m for m in view.moments if m.number}
        self._by_name = named
        rows = [Row(moments_sum(view), "loud"), Row(BLANK + MOMENTS_HEAD, "head")]
        for said, moments in by_drive(view):
            rows.append(Row(f"{said}:"))
            rows += [
                Row(moment_line(m), name=f"{m.drive_id} {m.number}")
                if m.number
                else Row(BLANK + moment_line(m))
                for m in moments
            ]
        self.show(rows)

    @property
    def moment(self) -> MomentRow | None:
        """The chosen one."""
        return self._by_name.get(self.chosen)
