"""Ways in and ways back: getting the module from the real sensor to the stand-in and home again.

The way in starts from the real value, matched before the relay closes; the way back is the
board's own. Nothing here decides what to be, only how to come and go.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locum.errors import Refused, Remark
from locum.jobs.calibration_readings import floor_measured
from locum.jobs.glance import LONGEST_RETURN_S, RETURN_RATE, real_ohm
from locum.jobs.live import Live
from locum.physics.calibration import Calibration
from locum.planning.ladder import board_ladder
from locum.planning.plan import Plan
from locum.planning.timeline import RATE_LIMIT_C_PER_S, Span, scaled_to_start

SETTLE_S = 3.0
"""Listening before anything is done, for the real sensor's value and the state to be known."""
FOLLOW_RATE = 300
"""Millikelvin per second of following."""
RETURN_WAIT_S = LONGEST_RETURN_S + 10.0
"""The way home takes no longer; then there is something wrong."""
BOARD_C_WAIT_S = 1.5
"""A board tells its own temperature once a second; one without a thermometer never does."""
SANE_C = (-45.0, 160.0)
"""Between these a real coolant or fluid sensor counts as working. [degC]"""


def prepare(live: Live, max_standing_min: float = 20.0) -> None:
    """Everything the board must hold before it may stand in: ladder, limits, ranges, lines."""
    circuit, board = live.circuit, live.board
    live.tick(0.5)  # the board must have read the line before it may leave the real sensor
    if not circuit.can("stand_in"):
        raise Refused(
            Remark(
                "cannot_stand_in",
                circuit.texts["board"][0],
                "a board that can stand in",
                "one for listening only",
                "use another board",
            )  # fmt: skip
        )
    if circuit.calibration is not None and at_rest(live):
        fresh = floor_measured(live.connection, circuit.board, circuit.calibration)
        circuit = replace(circuit, network=circuit.network.calibrated(fresh))
        live.circuit = circuit
    if circuit.calibration is not None:
        _warn_of_span(live, circuit.calibration)
    known = circuit.calibration is not None and not circuit.module.assumed
    board.upload_ladder(
        board_ladder(circuit.network, circuit.module.source, circuit.sensor.curve, known)
    )
    curve = circuit.sensor.curve
    sane = sorted(float(curve.resistance_ohm(np.clip(c, *curve.domain_c))) for c in SANE_C)
    falls = float(curve.slope_ohm_per_k(50.0)) < 0
    hottest = circuit.vehicle.highest_c if circuit.vehicle else None
    hot = 0 if hottest is None else round(float(curve.resistance_ohm(hottest)) * 1000)
    board.set_limits(
        standing_s=int(max_standing_min * 60), hot_milliohm=hot, real_falls=falls,
        sane_milliohm=(max(1, round(sane[0] * 1000)), min(round(sane[1] * 1000), 2**29)),
        follow_rate=FOLLOW_RATE, return_rate=RETURN_RATE,
    )  # fmt: skip
    if circuit.can("ohmmeter"):
        board.set_range(range_for(live))
    set_lines(live)


def _warn_of_span(live: Live, calibration: Calibration) -> None:
    """Say before the module is told anything that the board is far from where it was calibrated."""
    if live.board_c is None:
        live.wait(BOARD_C_WAIT_S, lambda live: live.board_c is not None)
    if live.board_c is not None:
        live.warn(*calibration.span_warnings(live.board_c))


def set_lines(live: Live) -> None:
    """Tell the board what kind each watch line is; without a vehicle sheet all are switched."""
    live.set_lines()


def range_for(live: Live) -> int:
    """The ohmmeter range for the real sensor: the reference nearest to it. 0..2."""
    ohm = real_ohm(live) or 2500.0
    references = np.array(live.connection.abilities.range_milliohm) / 1000
    return int(np.argmin(np.abs(np.log(references / ohm))))


def measured_real_c(live: Live) -> float:
    """The real sensor's temperature before the way in; Refused if it does not read sanely."""
    live.wait(SETTLE_S)
    ohm = real_ohm(live)
    curve = live.circuit.sensor.curve
    low, high = curve.domain_ohm
    if ohm is None or not low < ohm < high:
        shown = "open or shorted" if ohm is None else f"{ohm:.0f} ohm"
        raise Refused(
            Remark(
                "real_sensor",
                "line",
                "a real sensor that reads sanely before the way in",
                shown,
                "wait, or mend the circuit; a dead sensor is stood in for only when parked, "
                "with --fast",
            )  # fmt: skip
        )
    return float(curve.temperature_c(ohm))


def reachable_start(live: Live, celsius: float) -> float:
    """The nearest temperature to the real one that the network can be."""
    low, high = live.circuit.network.reach_ohm
    curve = live.circuit.sensor.curve
    ohm = float(np.clip(curve.resistance_ohm(celsius), low * 1.001, high * 0.999))
    return float(curve.temperature_c(ohm))


def with_way_in(live: Live, spans: list[Span], fast: bool) -> list[Span]:
    """The spans preceded by the way from the real value, unless a jump was asked for."""
    if fast:
        return spans
    start = reachable_start(live, measured_real_c(live))
    return scaled_to_start(spans, start, RATE_LIMIT_C_PER_S)


def refuse(plan: Plan) -> None:
    """Raises Refused for a plan that must not run."""
    if plan.refusals:
        raise Refused(plan.refusals, plan.warnings)


def run_plan(live: Live, plan: Plan) -> None:
    """Put the plan on board and start it; refused plans do not get here."""
    refuse(plan)
    blocks = plan.blocks()
    live.store.add_drive_sheet(live.drive_id, "plan", plan.name, plan_listing(plan))
    live.board.upload_plan(blocks, plan.name)
    live.board.run()
    live.stretch("stand_in", plan={"name": plan.name, "id": plan.plan_id, "steps": len(plan)})
    live.tick(0.05)


def plan_listing(plan: Plan) -> str:
    """The plan as CSV, for the record: what was to be told, when."""
    lines = ["dwell_ms,celsius,target_ohm,set_ohm,contact"]
    rows = zip(plan.dwell_ms, plan.celsius, plan.target_ohm, plan.choice.set_ohm, plan.contact,
               strict=True)  # fmt: skip
    lines += [f"{d},{c:.3f},{t:.2f},{s:.2f},{k}" for d, c, t, s, k in rows]
    lines += [f"# rows {x.start} to {x.stop - 1} played {x.times} times" for x in plan.loops]
    return "\n".join(lines) + "\n"


def refuse_unless_it_follows(live: Live) -> None:
    """Raises Refused where the board cannot copy the real sensor."""
    if not live.circuit.can("follow"):
        raise Refused(
            Remark(
                "cannot_follow",
                live.circuit.texts["board"][0],
                "a board that can follow",
                "one without an ohmmeter",
                "hold a value instead",
            )  # fmt: skip
        )


def start_following(live: Live) -> None:
    """Stand in at the real value and copy it from then on, glitches left out."""
    refuse_unless_it_follows(live)
    celsius = reachable_start(live, measured_real_c(live))
    live.board.set_resistance(float(live.circuit.sensor.curve.resistance_ohm(celsius)))
    live.board.follow()
    live.stretch("follow")
    live.tick(0.05)


def home(live: Live, wait_s: float = RETURN_WAIT_S) -> None:
    """Ease back and wait until the real sensor is connected; at once if the walk does not end."""
    if live.status.state in ("holding", "running"):
        live.board.ease_back()
    if not live.wait(wait_s, until=at_rest):
        live.board.real_sensor_now()
        live.tick()
    live.stretch("real")


def at_rest(live: Live) -> bool:
    return live.status.state in ("rest", "ready", "tripped")


def real_sensor_now(live: Live) -> None:
    live.board.real_sensor_now()
    live.tick(0.05)
