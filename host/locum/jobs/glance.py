"""What is needed at a glance: connected, told, true, commanded, last kick-out, safe on disk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from locum.physics.circuit import resistance_from_node_ohm
from locum.review.chunk import OPEN_MILLIOHM

if TYPE_CHECKING:
    from locum.jobs.live import Live

OPEN_OHM = OPEN_MILLIOHM / 1000
RETURN_RATE = 1000
"""Told to the board: millikelvin per second of the way home, which is cut short after
``LONGEST_RETURN_S``."""
LONGEST_RETURN_S = 20.0


@dataclass(frozen=True)
class Glance:
    """One look at a running recording. ``None`` means not known, never zero."""

    t_s: float
    """Since the recording began. [s]"""
    state: str
    """Engine state: rest ready holding running returning tripped."""
    source: str
    """What the module sees: real, stand_in, moving."""
    following: bool
    contact: str
    cause: str
    told_ohm: float | None
    told_c: float | None
    """What the module is told. [degC]"""
    true_ohm: float | None
    true_c: float | None
    """What the real sensor says. [degC]"""
    node_v: float
    commanded: str
    """Commanded state in the vehicle sheet's words; empty without a vehicle sheet."""
    held: bool
    """The commanded state is the one whose loss counts."""
    kick_outs: int
    last_kick_out_s: float | None
    """When the last one came, since the recording began. [s]"""
    releases: int
    glitches: int
    last_glitch_s: float | None
    exposed_s: float
    """Time that counts so far. [s]"""
    standing_left_s: int
    step: int
    steps: int
    saved_behind_s: float
    """How far the disk is behind the board. [s]"""
    lost: int
    trouble: str
    host_present: bool
    supply: str
    levels: int = 0
    """Watch lines now, bit 0 = line 1."""
    board_c: float | None = None
    """The board's own temperature; None before it was told, or without a thermometer. [degC]"""
    unsaved: str = ""
    """Why the record cannot be written just now, in few words; ``trouble`` says it whole."""

    @property
    def standing_in(self) -> bool:
        return self.source != "real"

    @property
    def way_home_s(self) -> float | None:
        """How long easing back still takes at the rate the board was told. [s]"""
        if self.told_c is None or self.true_c is None:
            return None
        return min(abs(self.told_c - self.true_c) * 1000 / RETURN_RATE, LONGEST_RETURN_S)


def celsius_or_none(curve, ohm: float | None) -> float | None:
    """Degrees of a resistance, None outside what the curve can mean."""
    if ohm is None:
        return None
    low, high = curve.domain_ohm
    return float(curve.temperature_c(ohm)) if low < ohm < high else None


def real_ohm(live: Live) -> float | None:
    """The real sensor now: by the ohmmeter while standing in, by the node at rest. [ohm]"""
    status, source = live.status, live.circuit.module.source
    if status.source == "stand_in":
        value = status.real_milliohm
        return None if value < 0 else value / 1000
    volts = status.node_0v1mv / 10_000
    if not 0 < volts < source.voc_v * 0.999:
        return None
    return float(resistance_from_node_ohm(source, volts))


def told_ohm(live: Live) -> float | None:
    """What the module is fed: the set value while standing in, else the real sensor. [ohm]"""
    status = live.status
    if status.source != "stand_in":
        return real_ohm(live)
    if status.contact != "through":
        return OPEN_OHM if status.contact == "open" else 0.0
    return status.set_milliohm / 1000 if status.set_milliohm > 0 else _by_node(live)


def _by_node(live: Live) -> float | None:
    volts, source = live.status.node_0v1mv / 10_000, live.circuit.module.source
    if not 0 < volts < source.voc_v * 0.999:
        return None
    return float(resistance_from_node_ohm(source, volts))


def commanded_state(live: Live) -> tuple[str, bool]:
    """The commanded state in the sheet's words, and whether it is the held one."""
    states = live.findings.states
    vehicle = live.circuit.vehicle
    name = states[-1][1] if states else ""
    tops = {state.name for state in vehicle.states if state.top} if vehicle else set()
    return name, name in tops


def glance_of(live: Live) -> Glance:
    status, curve, found = live.status, live.circuit.sensor.curve, live.findings
    told, true = told_ohm(live), real_ohm(live)
    commanded, held = commanded_state(live)
    kicks = found.kick_outs
    glitches = [g for g in found.glitches if not g.ours]
    trouble = live.recorder.trouble
    return Glance(
        t_s=live.now_ms / 1000, state=status.state, source=status.source,
        following=status.following, contact=status.contact, cause=status.cause,
        told_ohm=told, told_c=celsius_or_none(curve, told), true_ohm=true,
        true_c=celsius_or_none(curve, true), node_v=status.node_0v1mv / 10_000,
        commanded=commanded, held=held, kick_outs=len(kicks),
        last_kick_out_s=kicks[-1].t_ms / 1000 if kicks else None,
        releases=len(found.releases), glitches=len(glitches),
        last_glitch_s=glitches[-1].t_ms / 1000 if glitches else None,
        exposed_s=found.exposure.exposed_s, standing_left_s=status.standing_left_s,
        step=status.step, steps=status.steps,
        saved_behind_s=max(live.now_ms - live.recorder.saved_until_ms, 0) / 1000,
        lost=status.lost, trouble=trouble.text if trouble else "",
        unsaved=trouble.found if trouble else "",
        host_present=status.host_present, supply=status.supply, levels=status.levels,
        board_c=live.board_c,
    )  # fmt: skip
