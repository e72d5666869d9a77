"""What a verb of the command line tells when its recording has ended."""

from __future__ import annotations

from dataclasses import dataclass, field

from locum.errors import BoardFault, LinkTrouble, Remark
from locum.jobs.jsontext import Result
from locum.jobs.kept_filing import Kept
from locum.jobs.live import Live
from locum.jobs.trips import trip_remark
from locum.planning.plan import Plan


@dataclass
class VerbResult(Result):
    """What came of one recording."""

    verb: str
    drive: str
    seconds: float
    steps: int = 0
    worst_error_c: float | None = None
    expanded_u_c: float | None = None
    """Of the worst step (k = 2), where the board has been calibrated. [K]"""
    kick_outs: int = 0
    glitches: int = 0
    releases: int = 0
    injected: int = 0
    answered: int = 0
    exposure_h: float = 0.0
    told_c: float | None = None
    true_c: float | None = None
    ended: str = "done"
    """done, stopped (by hand), tripped, came_home (by itself, the link was lost), left (running on)."""
    board: str = ""
    casebook: str = ""
    refusals: list[Remark] = field(default_factory=list)
    warnings: list[Remark] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        codes = {"tripped": BoardFault.exit_code, "came_home": LinkTrouble.exit_code}
        return codes.get(self.ended, 0)


def fill(result: VerbResult, live: Live, how: str, plan: Plan | None) -> None:
    """The numbers of a finished recording."""
    last = live.glance()
    found = live.end(how)
    result.seconds = live.now_ms / 1000
    result.kick_outs = len(found.kick_outs)
    result.releases = len(found.releases)
    result.glitches = sum(not g.ours for g in found.glitches)
    result.injected = len(found.injections)
    result.answered = sum(i.answered_ms is not None for i in found.injections)
    result.exposure_h = found.exposure.exposed_s / 3600
    result.true_c, result.ended = last.true_c, how
    result.warnings += live.link_remarks
    if how == "tripped":
        result.warnings.append(trip_remark(live.status.cause))
    result.warnings += live.warnings
    result.warnings += _warmed(live)
    if live.rescued is not None:
        result.warnings.append(_rescued(live.rescued))
    if plan is not None:
        result.steps, result.worst_error_c = len(plan), plan.worst_error_c
        result.expanded_u_c = plan.expanded_u_c
        result.warnings += plan.warnings
    result.warnings = list(dict.fromkeys(result.warnings))


def _warmed(live: Live) -> list[Remark]:
    """That the board has come to be far from its calibration's temperature, if it was not said before."""
    calibration, said = live.circuit.calibration, {remark.code for remark in live.warnings}
    if calibration is None or live.board_c is None:
        return []
    return [r for r in calibration.span_warnings(live.board_c) if r.code not in said]


def _rescued(kept: Kept) -> Remark:
    return Remark(
        "kept_record",
        kept.board,
        "an empty memory on the board",
        f"{kept.seconds:.0f} s kept for recording {kept.continues}, filed as {kept.drive}",
        "",
    )
