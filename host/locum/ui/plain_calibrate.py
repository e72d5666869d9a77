"""The calibration line by line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from locum.jobs.calibration_told import look_ahead
from locum.jobs.desk_calibrating import METER_LINE, hand_meter
from locum.ui.calibrate_text import ahead_rows, look_text
from locum.ui.plain_instead import in_lines

if TYPE_CHECKING:
    from locum.ui.plain import Plain

BEGIN = f"""\
calibrate now: begins, or goes on with one that was stopped
calibrate {METER_LINE}: the same with a hand meter's readings
(an empty line stops it; what was read is kept)"""


def calibrate(plain: Plain, rest: str) -> str:
    """What must be true, or with ``now`` or a hand meter's readings the beginning of it."""
    snapshot = plain.desk.snapshot()
    if snapshot.calibration is not None and snapshot.calibration.under_way:
        return in_lines(look_text(snapshot.calibration, plain.unit))
    ahead = look_ahead(snapshot)
    if not rest or not ahead.may_begin:
        return "\n".join([*map(in_lines, ahead_rows(ahead)), BEGIN])
    readings = "" if rest.lower() == "now" else rest
    hand_meter(readings)
    plain.desk.ask("calibrate", readings, words="calibration")
    return "asked: calibration"
