"""What a board's answers say, as dataclasses; and its refusals as errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from locum.errors import BoardFault, LinkTrouble, Refused, Remark
from locum.link.found_board import Port, judge_answer
from locum_board import PROTOCOL, states


@dataclass(frozen=True)
class Identity:
    """Who answers: the four fields of ``*IDN?`` and this boot's number."""

    maker: str
    model: str
    """Board sheet the firmware was built for: reference, starter, pi, virtual."""
    serial: str
    firmware: str
    protocol: int
    """Major number; another than ours is refused."""
    protocol_minor: int
    boot_id: int


@dataclass(frozen=True)
class Abilities:
    """What the board has, in its own words (bits of ``locum_board.hands``) and numbers."""

    bits: int
    wipers: int
    lines: int
    bucket_ms: int
    node_full_0v1mv: int
    range_milliohm: tuple[int, int, int]

    def has(self, bit: int) -> bool:
        return bool(self.bits & bit)


@dataclass(frozen=True)
class Status:
    """One answer to ``FETCh?``: what the board is doing now."""

    t_ms: int
    """Board ticks, wrapping at 2**30."""
    state: str
    """Name from ``locum_board.states.STATE_NAMES``."""
    source: str
    """What the module sees: real, stand_in, moving."""
    step: int
    """Index of the plan's present step, counted through all parts; -1 without a plan."""
    steps: int
    """Steps in the whole plan; 0 without one."""
    node_0v1mv: int
    """Node voltage, mean of the last bucket. [0.1 mV]"""
    real_milliohm: int
    """Real sensor, median of 5 s, while standing in; OPEN_MILLIOHM open; -1 not known. [milliohm]"""
    cause: str
    """Why it is in this state: ``locum_board.states.CAUSE_NAMES``."""
    lost: int
    """Records lost since power-up."""
    host_present: bool
    following: bool
    contact: str
    """through, open, short."""
    set_milliohm: int
    """What the stand-in was last set to, as the host or the ladder said; -1 not known. [milliohm]"""
    parts_free: int
    """Plan buffers that can take a further part now."""
    waiting: int
    """Record slots waiting to be drained."""
    standing_left_s: int
    """Until the longest time away from the real sensor is over; -1 at rest. [s]"""
    levels: int
    """Watch lines, bit 0 = line 1."""
    errors: int
    """Entries in the board's error queue."""
    ohm_milliohm: int
    """What the ohmmeter reads now, mean of the last bucket; -1 not read. [milliohm]"""
    supply: str
    """Which supply feeds the board: unknown, host, power_bank."""

    @property
    def standing_in(self) -> bool:
        return self.source == "stand_in"


@dataclass(frozen=True)
class OhmReading:
    """One averaged reading for the self-calibration: ADC counts, range on and range off."""

    on_sum: int
    off_sum: int
    count: int

    @property
    def counts(self) -> float:
        """On minus off: offset, leakage and ground shift cancel. [ADC counts]"""
        return (self.on_sum - self.off_sum) / self.count


def ascii_name(name: str) -> str:
    """A plan's name as the board can keep it: printable ASCII, 31 at most, no quotes."""
    return "".join(c if " " <= c <= "~" and c != '"' else "_" for c in name)[:31]


def parse_identity(line: str, where: str = "") -> Identity:
    """``*IDN?``: maker,model,serial,"firmware/protocol.minor/boot"."""
    fields = [field.strip() for field in line.split(",")]
    try:
        maker, model, serial, last = fields
        firmware, protocol, boot = last.split("/")
        major, minor = protocol.removeprefix("P").split(".")
        found = Identity(maker, model, serial, firmware, int(major), int(minor), int(boot))
    except ValueError:
        raise LinkTrouble(_judged(line, where)) from None
    if maker != "locum" or found.protocol != PROTOCOL:
        raise LinkTrouble(_judged(line, where))
    return found


def _judged(line: str, where: str) -> Remark:
    """What an answer to ``*IDN?`` that we cannot work with says about the thing there."""
    found = judge_answer(Port(where), line.encode("ascii", "replace")).remark
    return found or Remark(
        "wrong_device", where, "a locum board", f"one that calls itself '{line[:40]}'",
        "name the board's own port; 'locum find' lists them",
    )  # fmt: skip


SOURCES = ("real", "stand_in", "moving")
CONTACTS = ("through", "open", "short")
SUPPLIES = ("unknown", "host", "power_bank")


def parse_status(numbers: Sequence[int]) -> Status:
    """Fields of ``FETCh?`` in the order of firmware_micropython/README.md; later ones may follow."""
    try:
        (t, state, source, step, steps, node, real, cause, lost, host, follow, contact) = numbers[
            :12
        ]
        set_, free, waiting, left, levels, errors, ohm, supply = numbers[12:20]
        return Status(
            t,
            states.STATE_NAMES[state],
            SOURCES[source],
            step,
            steps,
            node,
            real,
            states.CAUSE_NAMES[cause],
            lost,
            bool(host),
            bool(follow),
            CONTACTS[contact],
            set_,
            free,
            waiting,
            left,
            levels,
            errors,
            ohm,
            SUPPLIES[supply],
        )
    except (ValueError, IndexError):
        raise LinkTrouble(
            Remark(code="not_our_protocol", wanted="a status of 20 numbers", found=str(numbers))
        ) from None


def refusal_of(header: str, entries: list[str]) -> Refused | BoardFault:
    """The board's words as an error: -3xx and 3xx are its own faults, the rest our request's."""
    remarks = []
    fault = False
    for entry in entries:
        number, _, text = entry.partition(",")
        value = int(number) if number.lstrip("+-").isdigit() else 0
        fault |= -400 < value <= -300 or value >= 300
        remarks.append(
            Remark(
                code="board_refused",
                where=f"board, {header}",
                wanted="the command taken",
                found=f"{text.strip(chr(34))} ({value})",
            )
        )
    return BoardFault(remarks) if fault else Refused(remarks)
