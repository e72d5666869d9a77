"""The review's context from the sheets: lines, states, module, curve and rule."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locum.jobs.case_rule import exposure_rule
from locum.jobs.circuit import Circuit
from locum.review.context import Context, LineSpec, StatePattern
from locum.sheets.vehicle import VehicleSheet

CURVE_POINTS = 60
UNMEASURED_DELAY_MS = 2000
ROLES = {"commanded": "output", "brake": "brake", "ignition": "ignition", "other": "other"}


def _line_specs(vehicle: VehicleSheet) -> tuple[LineSpec, ...]:
    return tuple(
        LineSpec(
            line=line.input,
            name=line.name,
            on_level=1 if line.active == "high" else 0,
            kind=line.kind,
            role=ROLES[line.role],
            debounce_ms=line.debounce_ms,
        )  # fmt: skip
        for line in vehicle.lines
    )


def _patterns(vehicle: VehicleSheet) -> tuple[StatePattern, ...]:
    number = {line.name: line.input for line in vehicle.lines}
    return tuple(
        StatePattern(
            name=state.name,
            levels=tuple((number[name], level == "on") for name, level in state.lines.items()),
            held=state.top,
            transition=state.transition,
        )
        for state in vehicle.states
    )


def _curve_points(curve) -> tuple[tuple[float, float], ...]:
    low, high = max(curve.domain_c[0], -45.0), min(curve.domain_c[1], 200.0)
    celsius = np.linspace(low, high, CURVE_POINTS)
    return tuple(
        zip(np.asarray(curve.resistance_ohm(celsius)).tolist(), celsius.tolist(), strict=True)
    )


def with_answer(
    context: Context, shortest_s: float | None, delay_s: tuple[float, float] | None
) -> Context:
    """The context with what ``locum shortest`` has measured of the module's answer, if it has.

    A few trials do not show the longest delay there is: a quarter of a second and 15 % are added.
    """
    if shortest_s is not None:
        context = replace(context, shortest_answered_ms=round(1000 * shortest_s))
    if delay_s is not None:
        longest_ms = round(1000 * (1.15 * delay_s[1] + 0.25))
        context = replace(context, module_delay_ms=(round(1000 * delay_s[0]), longest_ms))
    return context


def review_context(circuit: Circuit) -> Context:
    """What review must know of this circuit. The module's delay is a wide one, whatever a sheet says,
    until injections have measured it (:func:`with_answer`)."""
    source, vehicle = circuit.module.source, circuit.vehicle
    delay = (0, max(UNMEASURED_DELAY_MS, int(circuit.module.delay_s * 1500)))
    roles = {line.role for line in vehicle.lines} if vehicle else set()
    needed = tuple(name for name in ("brake",) if name in roles)
    return Context(
        lines=_line_specs(vehicle) if vehicle else (),
        patterns=_patterns(vehicle) if vehicle else (),
        open_v=source.voc_v,
        pull_up_ohm=source.rth_ohm,
        second_pull_up_ohm=source.stages[0].rth_ohm if source.stages else None,
        curve_points=_curve_points(circuit.sensor.curve),
        module_delay_ms=delay,
        needed=needed if vehicle else ("brake",),
        throttle=bool(vehicle and vehicle.throttle),
        rule=exposure_rule(circuit),
        road_below_kmh=vehicle.road_below_kmh if vehicle else None,
    )
