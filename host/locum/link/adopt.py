"""After the link was lost: is the board still ours, and what did it do meanwhile?

Pure functions over what was known before and what the board says now. Nothing here talks; the job
asks the board, calls :func:`reconcile`, and writes the gap into the record as it is told.
"""

from __future__ import annotations

from dataclasses import dataclass

from locum.errors import Remark

T_MODULUS_MS = 1 << 30
"""The board's millisecond counter wraps here (12.4 days)."""


AWAY = ("holding", "running")
"""States in which the stand-in stays; from any other the board is at home or on its way."""


@dataclass(frozen=True)
class Known:
    """What identifies a board and what it was told to do."""

    serial_number: str
    boot_id: int
    """Number that changes with every start of the board."""
    t_ms: int
    """The board's clock, milliseconds, wrapping at 2^30."""
    state: str
    """``rest``, ``ready``, ``holding``, ``running``, ``returning`` or ``tripped``."""
    plan_name: str = ""
    plan_crc: int | None = None
    lost: int = 0
    """Records the board had to drop since its start."""
    cause: str = ""
    """Why it tripped or restarted, in the board's word."""
    protocol: int = 1


@dataclass(frozen=True)
class Gap:
    """A stretch of the record without the host, told by the board's own clock."""

    from_ms: int
    to_ms: int
    records_lost: int
    """Records that were overwritten on the board before they could be fetched."""
    restarted: bool
    state_before: str
    state_after: str

    @property
    def length_ms(self) -> int | None:
        """Length by the board's clock; None after a restart, when its clock began anew."""
        return None if self.restarted else (self.to_ms - self.from_ms) % T_MODULUS_MS


@dataclass(frozen=True)
class Adoption:
    """What to do with a board that has been found again, and what to say about it."""

    verdict: str
    """``resume`` (our plan still runs), ``watch`` (read-only: not our plan, or another protocol),
    ``ended`` (it came home by itself), ``restarted`` or ``stranger`` (another board)."""
    gap: Gap
    remarks: tuple[Remark, ...]


def reconcile(before: Known, now: Known, our_plan_crc: int | None = None) -> Adoption:
    """Compare a board with what it was when it was last heard.

    ``our_plan_crc`` is the plan the job uploaded; None if the job runs no plan. The order of the
    questions matters: another board's clock and plan mean nothing, and after a restart the clock
    began anew, so neither may be compared before these two are ruled out.
    """
    restarted = before.boot_id != now.boot_id
    gap = Gap(
        before.t_ms,
        now.t_ms,
        records_lost=now.lost if restarted else max(0, now.lost - before.lost),
        restarted=restarted,
        state_before=before.state,
        state_after=now.state,
    )
    if before.serial_number != now.serial_number:
        return Adoption("stranger", gap, (another_board(before.serial_number, now.serial_number),))
    remarks = [_gap_remark(gap)]
    if now.protocol > before.protocol:
        remarks.append(_newer(now))
        return Adoption("watch", gap, tuple(remarks))
    if restarted:
        remarks.append(_restarted(before, now))
        return Adoption("restarted", gap, tuple(remarks))
    if before.state in AWAY and now.state not in AWAY:
        remarks.append(_came_home(now))
        return Adoption("ended", gap, tuple(remarks))
    if our_plan_crc is not None and now.plan_crc != our_plan_crc:
        remarks.append(_other_plan(now))
        return Adoption("watch", gap, tuple(remarks))
    return Adoption("resume", gap, tuple(remarks))


def _gap_remark(gap: Gap) -> Remark:
    length = gap.length_ms
    shown = "unknown length" if length is None else f"{length / 1000:.1f} s by the board's clock"
    kept = (
        "everything sampled meanwhile was kept and is fetched now"
        if gap.records_lost == 0 and not gap.restarted
        else f"{gap.records_lost} records could not be kept"
    )
    return Remark("link_gap", "", "an unbroken link", f"a gap of {shown}; {kept}", "")


def another_board(wanted: str, found: str, place: str = "") -> Remark:
    """A board, but not the one that was lost."""
    return Remark(
        "another_board",
        place,
        f"board {wanted}",
        f"board {found}",
        "plug the first board in again, or end this recording and start a new one",
    )


def _newer(now: Known) -> Remark:
    return Remark(
        "firmware_newer",
        "",
        "a protocol this program speaks",
        f"protocol {now.protocol}",
        "the board is only read; install the newer locum on this computer",
    )


def _restarted(before: Known, now: Known) -> Remark:
    cause = f" ({now.cause})" if now.cause else ""
    return Remark(
        "board_restarted",
        "",
        f"the board still {before.state}",
        f"it restarted{cause} and the real sensor is connected",
        "what it had not handed over is lost and counted; start the stretch again",
    )


def _came_home(now: Known) -> Remark:
    cause = f" ({now.cause})" if now.cause else ""
    return Remark(
        "board_came_home",
        "",
        "the stand-in still connected",
        f"the board on its way home, or there, by itself{cause}",
        "its own record of that is fetched now; start the stretch again if more is wanted",
    )


def _other_plan(now: Known) -> Remark:
    return Remark(
        "plan_not_ours",
        "",
        "our plan on the board",
        f"plan '{now.plan_name}'" if now.plan_name else "another plan",
        "it is only watched; end it with 'real sensor now' before sending another",
    )
