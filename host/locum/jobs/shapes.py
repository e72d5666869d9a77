"""A captured glitch as something to give to the module, at whatever temperature it is now.

What was captured are the circuit's ohms at the time. Towards cold something came into series with the
sensor, towards hot something came to lie across it: that, and not the ohms themselves, is put onto the
present value. A glitch that is open or shorted throughout is given by the contacts, any other by a plan
of its own, between two spells of following.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.errors import Refused, Remark
from locum.jobs import standing
from locum.jobs.live import Live
from locum.jobs.profiles import open_profile, plan_of
from locum.jobs.provoking import give_contact
from locum.planning.timeline import Span
from locum.sheets.profile import ProfileSheet
from locum.sheets.recorded import CONTACTS

QUIET_SHARE = 0.005
"""Ohms this near the first row's are quiet."""
AROUND_S, AFTER_S = 0.3, 4.0
"""Quiet before and after the glitch within its plan; a plan that ends eases back by itself, so it is
left before. [s]"""
THROUGH = "through"


@dataclass(frozen=True)
class Shape:
    """One glitch: what it is at each time from its start."""

    name: str
    quiet_ohm: float
    at_s: tuple[float, ...]
    ohm: tuple[float, ...]
    contact: tuple[str, ...]
    length_s: float

    @property
    def length_ms(self) -> int:
        return max(1, round(1000 * self.length_s))

    @property
    def towards(self) -> str:
        """Which side it goes to; the contact where there is one, else its farthest ohms."""
        kinds = [c for c in self.contact if c != THROUGH]
        if kinds:
            return "cold" if kinds[0] == "open" else "hot"
        farthest = max(self.ohm, key=lambda ohm: abs(np.log(ohm / self.quiet_ohm)))
        return "cold" if farthest > self.quiet_ohm else "hot"

    @property
    def plain(self) -> bool:
        """Open or shorted throughout."""
        return len(set(self.contact)) == 1 and self.contact[0] != THROUGH

    def now_ohm(self, present_ohm: float) -> list[float]:
        """The ohms of each row with the sensor at ``present_ohm``. [ohm]"""
        made = []
        for ohm in self.ohm:
            if ohm >= self.quiet_ohm:
                made.append(present_ohm + ohm - self.quiet_ohm)
            else:
                made.append(1 / (1 / present_ohm + 1 / max(ohm, 1e-3) - 1 / self.quiet_ohm))
        return made


def open_shape(name: str) -> Shape:
    """The glitch of a captured profile, by file or name; Refused with what is wanted."""
    sheet = open_profile(name)
    recordings = [s.values["recording"] for s in sheet.segments if s.kind == "recorded"]
    if len(recordings) != 1 or len(sheet.segments) != 1 or recordings[0].unit != "ohm":
        raise Refused(Remark("no_glitch_profile", name, "a captured glitch: time_s, ohms and contact",
                             "another kind of profile", "make one with `locum capture DRIVE`, or play "
                             "this with `locum replay`"))  # fmt: skip
    found = recordings[0]
    quiet = found.value[0]
    away = [c != THROUGH or abs(v / quiet - 1) > QUIET_SHARE
            for v, c in zip(found.value, found.contact, strict=True)]  # fmt: skip
    if not any(away) or away[0] or away[-1]:
        raise Refused(Remark("no_glitch_profile", name, "quiet, a glitch, quiet",
                             "nothing that leaves the first value and comes back",
                             "choose another glitch with `locum capture --number`"))  # fmt: skip
    first = away.index(True)
    last = len(away) - 1 - away[::-1].index(True)
    rows = [first]
    for i in range(first + 1, last + 1):  # a value that holds is written twice in a profile
        if (found.value[i], found.contact[i]) != (found.value[rows[-1]], found.contact[rows[-1]]):
            rows.append(i)
    start = found.time_s[first]
    return Shape(
        sheet.name, quiet, tuple(found.time_s[i] - start for i in rows),
        tuple(found.value[i] for i in rows), tuple(found.contact[i] for i in rows),
        found.time_s[last + 1] - start,
    )  # fmt: skip


def span_of(shape: Shape, curve, present_ohm: float, reach_ohm: tuple[float, float]) -> Span:
    """Quiet, the glitch, quiet, as one span of a plan; beyond the reach its edge is taken."""
    low, high = sorted(reach_ohm)
    ohms = np.clip(shape.now_ohm(present_ohm), low * 1.001, high * 0.999)
    quiet = float(curve.temperature_c(present_ohm))
    t, celsius, contact = [0.0, AROUND_S], [quiet, quiet], [0, 0]
    ends = [*shape.at_s[1:], shape.length_s]
    for at, end, ohm, kind in zip(shape.at_s, ends, ohms, shape.contact, strict=True):
        value = float(curve.temperature_c(ohm)) if kind == THROUGH else celsius[-1]
        t += [AROUND_S + at, AROUND_S + end]
        celsius += [value, value]
        contact += [CONTACTS.index(kind)] * 2
    end = AROUND_S + shape.length_s
    t += [end, end + AFTER_S]
    return Span(
        np.array(t), np.array([*celsius, quiet, quiet]), np.array([*contact, 0, 0], np.uint8), 1,
        shape.name, "glitches",
    )  # fmt: skip


def give(live: Live, kind: int | Shape, towards: str) -> None:
    """One glitch: a length [ms] by the contacts towards that side, or a captured one as it was."""
    if isinstance(kind, Shape) and not kind.plain:
        give_shape(live, kind)
    elif isinstance(kind, Shape):
        give_contact(live, kind.length_ms, kind.towards)
    else:
        give_contact(live, kind, towards)


def give_shape(live: Live, shape: Shape) -> None:
    """Play it from the present value, and follow again."""
    circuit = live.circuit
    present = live.glance().told_ohm or shape.quiet_ohm
    spans = [span_of(shape, circuit.sensor.curve, present, circuit.network.reach_ohm)]
    profile = ProfileSheet(shape.name, shape.name, "celsius", (), fast=True)
    plan = plan_of(profile, circuit, fast=True, spans=spans)
    if plan.refusals:
        raise Refused(plan.refusals)
    live.board.abort()
    live.tick(0.05)
    live.board.upload_plan(plan.blocks(), shape.name)
    live.board.run()
    live.wait(shape.length_s + 2 * AROUND_S, standing.at_rest, 0.1)
    if not standing.at_rest(live):
        live.board.abort()
        live.board.follow()
        live.tick(0.05)
