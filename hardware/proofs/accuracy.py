"""Errors of node and ohmmeter with tolerances, by random draws, and the watch lines' thresholds."""

from __future__ import annotations

import numpy as np
from circuit.model import Circuit
from circuit.spice import Elements

from .deck import Deck, Row, crossing

DRAWS = 60
SEED = 8
NODE_V = (0.1, 0.5, 1.5, 3.0, 4.5, 5.2)
KNOWN_V = (0.5, 4.5)
OHMS = {
    # true ohms: (range signal, references, 95 % limit in %). 0.35 % is 0.1 K at 80 degC on B.
    60.0: ("range_1k5", ("RPF1", "RK1"), 1.0),
    105.0: ("range_1k5", ("RPF1", "RK1"), 0.65),
    300.0: ("range_1k5", ("RPF1", "RK1"), 0.35),
    4000.0: ("range_12k", ("RPF1", "RK2"), 0.35),
    12000.0: ("range_12k", ("RPF1", "RK2"), 0.40),
    150000.0: ("range_100k", ("RPF1", "RK3"), 0.50),
}
NODE_PARTS = ("R28", "R29", "R30", "R31", "R3")
OHM_PARTS = ("RPF1", "RK1", "RK2", "RK3", "R27")
RANGES = ("range_1k5", "range_12k", "range_100k")


def rows(circuit: Circuit) -> list[Row]:
    return [*node_rows(circuit), *ohm_rows(circuit), *watch_rows(circuit)]


def node_deck(circuit: Circuit, rng: np.random.Generator) -> Deck:
    """LINE held at known volts; divider, buffer and 3.3 V drawn anew at each draw."""
    elements = Elements(circuit, {"K1": "rest"}).blocks("node").parts("R3", "D8")
    made = Deck(
        "node reading with tolerances",
        elements.text(),
        ["v_vbus vbus 0 5", "v_logic n3v3 0 3.3", "v_line line 0 1", "r_adc vref 0 30k"],
    )
    for _ in range(DRAWS):
        logic = 3.3 * (1 + 0.02 * rng.uniform(-1, 1))
        drawn = [*_tolerances(circuit, NODE_PARTS, rng), f"v_logic = {logic:.6g}"]
        drawn += [f"v_u6_off = {0.5e-3 * rng.uniform(-1, 1):.6g}"]
        for volts in NODE_V:
            made.op([*drawn, f"v_line = {volts}"], ["v(node_adc)", "v(vref)"])
    return made


def node_rows(circuit: Circuit) -> list[Row]:
    """Reading against truth, as built and after readings of two known voltages."""
    rng = np.random.default_rng(SEED)
    volts = node_deck(circuit, rng).run().reshape(DRAWS, len(NODE_V), 2)
    counts = _converted(volts[..., 0] / volts[..., 1], circuit, rng)
    nominal = 2.0 * 3.3 / 4096 * counts
    truth = np.array(NODE_V)
    low, high = (NODE_V.index(v) for v in KNOWN_V)
    slope = (truth[high] - truth[low]) / (nominal[:, high] - nominal[:, low])
    settled = truth[low] + (nominal - nominal[:, low : low + 1]) * slope[:, None]
    return [
        Row("node 0.1-5.2 V as built, 95 % of draws", _p95((nominal - truth) / truth[-1] * 100),
            "%", high=3.0, note="of 5.2 V; 3.3 V +-2 % is most of it"),
        Row("node 0.1-5.2 V after two known voltages, 95 %", _p95(settled - truth) * 1e3,
            "mV", high=5.0, note="what the check of a step uses"),
    ]  # fmt: skip


def ohm_deck(circuit: Circuit, rng: np.random.Generator) -> Deck:
    """A known resistor at SENS, relay energised; each reading is a pair, range on and off."""
    elements = Elements(circuit, {"K1": "energised", "U3": 0.0})
    elements.parts("K1", "R3").blocks("ohmmeter").parts("U3")
    made = Deck(
        "ohmmeter with tolerances",
        elements.text(),
        ["v_logic n3v3 0 3.3", "r_sensor sens 0 1k", "r_line line 0 10k", "r_t throttle 0 1meg",
         "r_adc vref 0 30k", *(f"v_{net} {net} 0 3.3" for net in RANGES),
         *(f"r_ch{n} {net} 0 1e9" for n, net in enumerate(
             ("node_adc", "vpot_s", "vbus_s", "batn_s", "temp", "half_ref", "thr_adc")))],
    )  # fmt: skip
    for _ in range(DRAWS):
        drawn = [
            *_tolerances(circuit, OHM_PARTS, rng),
            f"i_u3_0 = {rng.uniform(-10e-9, 10e-9):.6g}",
        ]
        for ohm, (signal, _, _) in OHMS.items():
            for on in (True, False):
                gates = [f"v_{net} = {0 if on and net == signal else 3.3}" for net in RANGES]
                made.op([*drawn, *gates, f"r_sensor = {ohm}"], ["v(ohm_s)", "v(vref)"])
                drawn = []
    return made


def ohm_rows(circuit: Circuit) -> list[Row]:
    rng = np.random.default_rng(SEED + 1)
    volts = ohm_deck(circuit, rng).run().reshape(DRAWS, len(OHMS), 2, 2)
    counts = _converted(volts[..., 0] / volts[..., 1], circuit, rng, whole=False)
    share = (counts[:, :, 0] - counts[:, :, 1]) / 4096
    found = []
    for at, (ohm, (_, references, limit)) in enumerate(OHMS.items()):
        reference = sum(NOMINAL[ref] for ref in references)
        seen = reference * share[:, at] / (1 - share[:, at])
        found.append(
            Row(f"one ohm reading at {ohm:g} ohm, 95 % of draws", _p95((seen / ohm - 1) * 100),
                "%", high=limit, note="before calibration; 0.1 % references, ADC 1 LSB")
        )  # fmt: skip
    return found


NOMINAL = {"RPF1": 750.0, "RK1": 750.0, "RK2": 11.3e3, "RK3": 100e3}
"""What firmware and calibration take the references for; a wrong part on the board is an error."""


def watch_deck(circuit: Circuit, scale: dict[str, float], logic_v: float) -> Deck:
    """Watch line 1 taken up from 0 to 14 V and down again."""
    changed = circuit
    for ref, factor in scale.items():
        part = circuit[ref]
        changed = changed.changed(ref, si=(part.si or 0) * factor)
    refs = [p.ref for p in circuit.of_block("watch") if "110" <= p.ref[1:] <= "119"]
    made = Deck(
        "threshold of a watch line",
        Elements(changed).parts("R54", "R55", "U9", *refs).text(),
        ["v_vbus vbus 0 5", f"v_logic n3v3 0 {logic_v:.6g}",
         "v_w1 w1 0 pwl(0 0 0.1 14 0.2 0)",
         *(f"r_w{n} w{n}_c 0 1e6" for n in (2, 3, 4)), *(f"r_p{n} watch{n} 0 1e6" for n in (2, 3, 4))],
    )  # fmt: skip
    made.tran("50u 0.2", ["v(w1)", "v(watch1)"])
    return made


def watch_rows(circuit: Circuit) -> list[Row]:
    rng = np.random.default_rng(SEED + 2)
    refs = ("R54", "R55", "R110", "R111", "R112")
    edges = []
    for _ in range(12):
        scale = {ref: 1 + 0.01 * rng.choice([-1, 1]) for ref in refs if ref in circuit.parts}
        time, line, out = watch_deck(circuit, scale, 3.3 * (1 + 0.02 * rng.choice([-1, 1]))).run()
        for after in (0.0, 0.1):
            when = crossing(time, out, 1.65, after)
            edges.append(float(np.interp(when, time, line)) if np.isfinite(when) else np.nan)
    return [
        Row("watch threshold, lowest corner (1 %, 3.3 V +-2 %)", float(np.min(edges)), "V", low=5.5),
        Row("watch threshold, highest corner", float(np.max(edges)), "V", high=7.2),
        Row("watch hysteresis", float(np.mean(np.array(edges[::2]) - np.array(edges[1::2]))), "V",
            0.3, 1.2),
    ]  # fmt: skip


def _tolerances(circuit: Circuit, refs, rng: np.random.Generator) -> list[str]:
    """`alter` orders that draw each resistor evenly within its tolerance."""
    orders = []
    for ref in refs:
        if ref in circuit.parts and circuit[ref].si:
            part = circuit[ref]
            width = part.kind.figures.get("tolerance_pct", 1.0) / 100
            orders.append(f"r_{ref.lower()} = {part.si * (1 + width * rng.uniform(-1, 1)):.9g}")
    return orders


def _converted(share: np.ndarray, circuit: Circuit, rng, whole: bool = True) -> np.ndarray:
    """Counts of the converter: offset and gain drawn per board, INL per reading.

    INL is none at the ends, by its definition. `whole` rounds to one sample's counts; a mean over
    many samples does not, because noise of about one count spreads them.
    """
    figures = circuit["U3"].kind.figures
    boards = (share.shape[0],) + (1,) * (share.ndim - 1)
    offset = figures["offset_lsb"] * rng.uniform(-1, 1, boards)
    gain = figures["gain_lsb"] / 4096 * rng.uniform(-1, 1, boards)
    inl = figures["inl_lsb"] * rng.uniform(-1, 1, share.shape) * (np.abs(share) > 0.01)
    counts = share * 4096 * (1 + gain) + offset + inl
    return np.round(counts) if whole else counts


def _p95(errors: np.ndarray) -> float:
    return float(np.max(np.percentile(np.abs(errors), 95, axis=0)))
