"""Profile in, plan out: temperature(t) -> steps -> ohms -> codes, each step checked."""

from __future__ import annotations

import numpy as np

from locum.errors import Refused, Remark
from locum.physics import choose
from locum.physics.circuit import node_v
from locum.planning import judge
from locum.planning.plan import Loop, Plan
from locum.planning.quantise import StepTable, quantised
from locum.planning.timeline import Span
from locum.sheets.module import ModuleSheet
from locum_board.steps import MAX_STEPS, TOLERANCE_HALF_MV

DEFAULT_RESOLUTION_C = 0.05
LARGEST_PULL_UP_V = 6.0
SHORT_OHM = 3.0
"""The closed solid-state switch of the short, with its leads (parts data). [ohm]"""
NODE_U = 0.02
"""Relative disagreement of node and plan that is still no fault on a calibrated board: ADC,
pull-up and stand-in together stay within 2 % (reference circuit); the class above it is taken."""
NOMINAL_U = 0.25
"""Relative error of a set resistance on a board that was never calibrated: pots of 20 %."""


def compile_plan(
    spans: list[Span],
    curve,
    network,
    module: ModuleSheet,
    *,
    name: str = "plan",
    resolution_c: float = DEFAULT_RESOLUTION_C,
    fast: bool = False,
    on_silence: str = "return",
    circuit: str = "",
) -> Plan:
    """The plan of a timeline for one sensor curve, stand-in network and module.

    Never raises for what a plan can earn; see ``refusals`` and ``warnings`` of the result.
    Raises Refused only where the curve itself cannot answer (a temperature outside its domain).
    """
    tables = [quantised(span, resolution_c) for span in spans]
    celsius, dwell_ms, contact, loops = _joined(spans, tables)
    if not len(celsius):
        raise Refused(Remark("empty", name, "a profile that lasts", "no time at all"))
    target_ohm = np.asarray(curve.resistance_ohm(celsius), float)
    alpha_per_k = np.abs(curve.slope_ohm_per_k(celsius)) / target_ohm
    choice = choose.choose_codes(network, target_ohm, module.source, alpha_per_k=alpha_per_k)
    node = _expected_node(module, choice.set_ohm, contact)
    error = _error_c(curve, celsius, target_ohm, choice.set_ohm)
    seconds = dwell_ms / 1000 * _counts(loops, len(celsius))
    rows = _wire_rows(celsius, loops)
    refusals = [
        *_pull_up_refusals(module),
        *judge.rate_refusals(spans, fast),
        *choice.refusals,
        *judge.length_refusals(float(seconds.sum()), rows, MAX_STEPS, on_silence),
    ]
    warnings = [
        *judge.stuck_warnings(spans),
        *judge.plausibility_warnings(spans),
        *judge.cold_warnings(celsius, seconds, circuit),
        *judge.code_warnings(contact, dwell_ms, module),
        *curve.outside_points(celsius),
    ]
    worst = float(np.abs(error).max())
    return Plan(
        name=name, celsius=celsius, target_ohm=target_ohm, choice=choice, dwell_ms=dwell_ms,
        contact=contact, node_half_mv=np.clip(np.rint(node * 2000), 0, 65534).astype(np.uint16),
        tolerance=_tolerance_class(module, network, choice.set_ohm, node, contact), loops=loops,
        network_id=int(network.network_id[:8], 16), on_silence=on_silence,
        resolution_c=resolution_c, start_c=float(celsius[0]), worst_error_c=worst,
        rms_error_c=float(np.sqrt(np.mean(error**2))), worst_hold_c=worst + resolution_c / 2,
        worst_excursion_c=float((choice.excursion_ln / alpha_per_k).max(initial=0.0)),
        worst_branch_ma=float(choice.wiper_a.max() * 1000),
        refusals=refusals, warnings=warnings,
    )  # fmt: skip


def _joined(spans: list[Span], tables: list[StepTable]):
    loops, start = [], 0
    for span, table in zip(spans, tables, strict=True):
        if span.times > 1 and len(table):
            loops.append(Loop(start, start + len(table), span.times))
        start += len(table)
    celsius = np.concatenate([table.celsius for table in tables])
    dwell = np.concatenate([table.dwell_ms for table in tables])
    contact = np.concatenate([table.contact for table in tables])
    return celsius, dwell, contact, tuple(loops)


def _counts(loops: tuple[Loop, ...], rows: int) -> np.ndarray:
    counts = np.ones(rows)
    for loop in loops:
        counts[loop.start : loop.stop] = loop.times
    return counts


def _wire_rows(celsius: np.ndarray, loops: tuple[Loop, ...]) -> int:
    return len(celsius) + len(loops)


def _expected_node(module: ModuleSheet, set_ohm: np.ndarray, contact: np.ndarray) -> np.ndarray:
    """Volts the board should see at each step."""
    through = node_v(module.source, set_ohm)
    shorted = node_v(module.source, SHORT_OHM)
    return np.where(contact == 1, module.source.voc_v, np.where(contact == 2, shorted, through))


def _tolerance_class(module, network, set_ohm, node, contact) -> np.ndarray:
    """The narrowest class that holds what may honestly differ; open and short are not checked.

    Without a measured pull-up nothing can be expected of the node; without a calibration the
    stand-in's own tolerance comes on top.
    """
    table = np.asarray(TOLERANCE_HALF_MV)
    if module.assumed:
        return np.zeros(len(node), np.uint8)
    allowed = np.maximum(node * NODE_U, 0.02)
    if not network.calibration_id:
        allowed = allowed + np.abs(node_v(module.source, set_ohm * (1 + NOMINAL_U)) - node)
    index = np.searchsorted(table[1:], allowed * 2000) + 1
    index = np.where(index < len(table), index, 0)
    return np.where(contact == 0, index, 0).astype(np.uint8)


def _error_c(curve, celsius, target_ohm, set_ohm) -> np.ndarray:
    """Set ohms against asked ohms as kelvin, by the curve's slope where both are near."""
    slope = np.asarray(curve.slope_ohm_per_k(celsius), float)
    relative = np.log(set_ohm / target_ohm) * target_ohm / slope
    return np.where(np.isfinite(relative), relative, np.inf)


def _pull_up_refusals(module: ModuleSheet) -> list[Remark]:
    if module.source.voc_v <= LARGEST_PULL_UP_V:
        return []
    return [
        Remark(
            "pull_up_voltage",
            module.name,
            f"a pull-up to {LARGEST_PULL_UP_V:g} V at most",
            f"{module.source.voc_v:g} V",
            "only listen on this circuit",
        )  # fmt: skip
    ]
