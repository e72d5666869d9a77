"""The acts a key can ask for. Each runs in the desk's worker and may be ended by an urgent key."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from locum.errors import Misuse, Refused, Remark
from locum.jobs import standing
from locum.jobs.desk_calibrating import calibrate
from locum.jobs.live import Live
from locum.jobs.profiles import open_profile, plan_of
from locum.jobs.provoking import give_contact, provoke_for
from locum.jobs.quantities import readings_typed
from locum.jobs.reach import TAPS
from locum.jobs.self_test import look_at_itself
from locum.jobs.shapes import Shape, give, open_shape, span_of
from locum.jobs.targets import said, target_of
from locum.jobs.unseen import swap
from locum.physics.readings import curve_from_readings
from locum.planning import judge
from locum.planning.timeline import RATE_LIMIT_C_PER_S, line, scaled_to_start, timeline
from locum.sheets import values
from locum.sheets.profile import ProfileSheet, Segment
from locum.sheets.sensor import sensor_text

if TYPE_CHECKING:
    from locum.jobs.desk_session import Session

HOLD_MIN = 20.0


def perform(
    session: Session, live: Live, name: str, arguments: tuple[Any, ...], words: str
) -> None:
    """Run one act of ``ACTS`` by name."""
    act = ACTS.get(name)
    if act is None:
        raise Misuse(Remark("act", "desk", ", ".join(ACTS), name))
    if name not in QUIET:
        session.show(doing=name, doing_words=words or " ".join(str(a) for a in arguments))
    act(session, live, *arguments)


def _free(live: Live) -> None:
    """A trip is latched; asking for something new after it has been shown lets it go."""
    if live.status.state == "tripped":
        live.board.clear_trip()
        live.tick()


def _standing_c(live: Live) -> float | None:
    """What the module is told now, if the stand-in is connected. [degC]"""
    glance = live.glance()
    return glance.told_c if glance.standing_in else None


def _go(session: Session, live: Live, profile: ProfileSheet, spans, fast: bool) -> None:
    """Start a plan from wherever we stand and let it run; returns when it is under way."""
    _free(live)
    already = _standing_c(live)
    if already is None:
        standing.prepare(live, session.settings.max_standing_min)
        spans = standing.with_way_in(live, spans, fast)
    else:
        begun = spans if fast else scaled_to_start(spans, already, RATE_LIMIT_C_PER_S)
        standing.refuse(plan_of(profile, live.circuit, fast, spans=begun))  # before anything stops
        live.board.abort()
        live.tick()
        spans = spans if fast else scaled_to_start(spans, already, RATE_LIMIT_C_PER_S)
    plan = plan_of(profile, live.circuit, fast, spans=spans)
    standing.run_plan(live, plan)
    session.note("connected", f"stand-in: {profile.name}")


def hold(session: Session, live: Live, text: str, fast: bool = False) -> None:
    target = target_of(text, session.settings.unit)
    curve = live.circuit.sensor.curve
    if target.now:
        celsius = standing.reachable_start(live, standing.measured_real_c(live))
    else:
        celsius = target.celsius if target.ohm is None else float(curve.temperature_c(target.ohm))
    shape = {"at": celsius, "minutes": HOLD_MIN, "wander": None, "wander_period_s": 60.0}
    understood = said(target, session.settings.unit)
    name = "holds what the sensor says now" if target.now else f"hold {understood}"
    profile = ProfileSheet(name, name, "celsius", (Segment("hold", shape, name),), fast=fast)
    _go(session, live, profile, timeline(profile, curve, fast), fast)
    if not fast:
        session.goal = (float(celsius), understood)  # type: ignore[arg-type]


def sweep(session: Session, live: Live, start: str, end: str, minutes: float = 10.0) -> None:
    unit = session.settings.unit
    low, high = values.temperature_c(start, unit), values.temperature_c(end, unit)
    half = minutes * 30
    name = f"sweep {start} to {end}"
    spans = [line(name, "sweep", (0, low), (half, high), (2 * half, low))]
    _go(session, live, ProfileSheet(name, name, "celsius", ()), spans, False)


def replay(session: Session, live: Live, name: str, fast: bool = False) -> None:
    profile = open_profile(name)
    profile = replace(profile, name=profile.name)
    _go(session, live, profile, timeline(profile, live.circuit.sensor.curve, fast), fast)


def follow(session: Session, live: Live) -> None:
    _free(live)
    standing.refuse_unless_it_follows(live)
    if _standing_c(live) is None:
        standing.prepare(live, session.settings.max_standing_min)
        standing.start_following(live)
    else:
        live.board.abort()
        live.tick()
        live.board.follow()
        live.stretch("follow")
    session.note("connected", "following, glitches left out")
    live.tick()


def stay(session: Session, live: Live) -> None:
    """Hold the present value."""
    live.board.abort()
    live.tick()


def contact(session: Session, live: Live, towards: str, milliseconds: int) -> None:
    """One open or short while standing in; from the real sensor it follows first."""
    if _standing_c(live) is None:
        follow(session, live)
        live.wait(3.0)
    give_contact(live, milliseconds, towards)
    live.tick()


def glitch(
    session: Session, live: Live, kinds: tuple[int | str, ...] = (300,), count: int = 6
) -> None:
    """Lengths [ms] and captured glitches by name or file; all are read before anything connects."""
    given = tuple(open_shape(kind) if isinstance(kind, str) else kind for kind in kinds)
    _refuse_erratic(live, given)
    if _standing_c(live) is None:
        follow(session, live)
    live.board.set_limits(standing_s=14400)
    provoke_for(live, given, count, 20.0, session.setup.seed,
                lambda kind: give(live, kind, "cold"))  # fmt: skip
    session.show(doing="follow", doing_words="")


def _refuse_erratic(live: Live, kinds: tuple[int | Shape, ...]) -> None:
    """A captured glitch that jumps as often as a module calls erratic is asked for by command only."""
    circuit = live.circuit
    spans = [span_of(kind, circuit.sensor.curve, kind.quiet_ohm, circuit.network.reach_ohm)
             for kind in kinds if isinstance(kind, Shape)]  # fmt: skip
    counted = judge.plausibility_warnings(spans)
    if counted:
        remedy = "choose a calmer one, or ask for it with `locum glitch --profile FILE --fast`"
        raise Refused([Remark(r.code, r.where, r.wanted, r.found, remedy) for r in counted])


def mark(
    session: Session, live: Live, kind: str = "key", ago_s: float = 0.0, note: str = ""
) -> None:
    live.mark(kind, ago_s, note)
    if kind in ("foot", "brake", "road"):
        session.show(awaits_answer=False)
    if kind == "note":
        session.note("mark", note)


def felt(session: Session, live: Live, yes: bool) -> None:
    """The answer to "anything felt?"."""
    session.answer_felt(yes)


def file(session: Session, live: Live, case_id: str) -> None:
    """File the running recording under a case, and give the case the sheets it does not have yet."""
    live.store.file_drive(live.drive_id, case_id)
    for role in ("sensor", "module", "vehicle"):
        name, text = live.circuit.texts.get(role, ("", ""))
        if role == "sensor" and name == "readings":
            name, text = "as_read", readings_sheet(session.setup.sensor or "")
        if text and "schema" in text and live.store.sheet(case_id, role) is None:
            live.store.attach_sheet(case_id, role, name, text)
    if session.setup.reach:
        live.store.change_case(case_id, {"tap": {"end": TAPS[session.setup.reach]}})
    session.desk.setup = replace(session.setup, case=case_id)
    session.show(case_id=case_id, case_title=live.store.case(case_id).title)
    session.look_for_offers()


def readings_sheet(readings: str) -> str:
    """Typed meter readings as a sensor sheet, so that the case can be opened again with them."""
    if "=" not in readings:
        return ""
    fit = curve_from_readings(readings_typed(readings))
    return sensor_text(fit, "Sensor as read", "hand meter", readings)


def extend(session: Session, live: Live) -> None:
    """I am here: the longest time away starts again."""
    live.board.extend_standing(int(session.settings.max_standing_min * 60))


def self_test(session: Session, live: Live) -> None:
    """The board looks at itself; only at rest."""
    live.tick(0.0)
    found = look_at_itself(live.board, live.status.state)
    if found is None:
        raise Refused(Remark("not_at_rest", "self-test", "a board at rest, the real sensor connected",
                             "it is not", "ease back first"))  # fmt: skip
    session.show(self_test=found)


def clear_trip(session: Session, live: Live) -> None:
    live.board.clear_trip()
    live.tick()


ACTS = {
    "hold": hold,
    "sweep": sweep,
    "replay": replay,
    "follow": follow,
    "stay": stay,
    "contact": contact,
    "glitch": glitch,
    "swap": swap,
    "calibrate": calibrate,
    "mark": mark,
    "felt": felt,
    "extend": extend,
    "file": file,
    "clear_trip": clear_trip,
    "self_test": self_test,
}
QUIET = ("mark", "felt", "extend", "clear_trip", "file", "self_test")
"""Acts that change nothing about what is being done."""
LONG = ("glitch", "swap", "calibrate")
"""Acts that take minutes before the next one is looked for."""
QUICK = ("mark", "felt", "extend", "file")
"""Of these the ones in which no time passes: served at every tick."""
