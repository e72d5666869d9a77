"""Step errors, excursions and speed of the code choice, beside what simpler stand-ins reach.

    python tests/benchmarks/run.py --only network

Random boards: pots within 20 %, their ladder's non-linearity and wiper resistances as the virtual
board draws them, taken as perfectly known, so that what is left is the step. Pull-up 1 kohm to 5 V, where
currents bind. Curves: A, 8 kohm at 20 degC, and B, 2.5 kohm (coefficients in the code; see
tests/published). Steps of 0.05 K over the range, both directions.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from pace import pace
from table import Limit, Table

from locum.locations import asset_root
from locum.physics.choose import choose_codes, excursion_c
from locum.physics.circuit import Thevenin
from locum.physics.curve import NtcCurve
from locum.physics.network import Network
from locum.physics.pot import rheostat_table_ohm
from locum.sheets.board import read_board
from locum.sheets.parts import preferred_ohm
from locum.virtual.analog import NetworkTruth

CURVES = {
    "A": NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7),
    "B": NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7),
}
SOURCE = Thevenin(5.0, 1000.0)
STEP_K = 0.05
ZONES = {  # ohm: (low, high), worst, rms [K]
    "120 ohm..40 kohm": (120.0, 40e3, 0.05, 0.01),
    "66..120 ohm": (66.0, 120.0, 0.5, np.inf),
    "40..80 kohm": (40e3, 80e3, 0.15, np.inf),
}
SPEED_STEPS = (100, 1_000, 10_000, 100_000)
PLAN_STEPS, PLAN_LIMIT_S = 36_000, 0.5


def reference_sheet() -> dict:
    return read_board((asset_root("hardware/boards") / "reference.toml").read_text())


def random_network(sheet: dict, seed: int) -> Network:
    """The reference board's network with one random board's tables, perfectly known."""
    nominal, truth = Network.from_board(sheet), NetworkTruth(sheet, seed)
    wipers = tuple(
        replace(wiper, table_ohm=truth.table_ohm[i]) for i, wiper in enumerate(nominal.wipers)
    )
    return replace(nominal, wipers=wipers, series_ohm=float(truth.series_ohm))


def targets(curve, low: float, high: float, falling: bool) -> np.ndarray:
    ends = sorted((float(curve.temperature_c(low)), float(curve.temperature_c(high))))
    celsius = np.arange(ends[0], ends[1], STEP_K)
    return np.clip(curve.resistance_ohm(celsius[::-1] if falling else celsius), low, high)


def step_errors(sheet: dict, boards: int) -> Table:
    rows, limits = [], []
    for name, curve in CURVES.items():
        for zone, (low, high, worst_limit, rms_limit) in ZONES.items():
            errors, currents = [], []
            for seed in range(boards):
                ohm = targets(curve, low, high, bool(seed % 2))
                choice = choose_codes(random_network(sheet, seed), ohm, SOURCE)
                errors.append(curve.temperature_c(choice.set_ohm) - curve.temperature_c(ohm))
                currents.append(1e3 * choice.wiper_a.max())
            worst = np.array([np.abs(error).max() for error in errors])
            rms = np.array([np.sqrt(np.mean(error**2)) for error in errors])
            rows.append((f"four wipers, {zone}", name, f"{worst.max():.4f}", f"{np.median(worst):.4f}",
                         f"{rms.max():.4f}", f"{max(currents):.2f}"))  # fmt: skip
            limits.append(Limit(f"{name}, {zone}, worst K", float(worst.max()), worst_limit))
            if np.isfinite(rms_limit):
                limits.append(Limit(f"{name}, {zone}, rms K", float(rms.max()), rms_limit))
            limits.append(Limit(f"{name}, {zone}, branch mA", max(currents), 2.5))
        rows += simpler(name, curve)
    header = ("stand-in", "curve", "worst K", "median of worst", "rms K", "branch mA")
    return Table(f"Step error, {boards} random boards", header, rows, limits)


def simpler(name: str, curve) -> list[tuple[str, ...]]:
    """One pot and fixed resistors over 120 ohm..40 kohm, where they reach at all."""
    ohm = targets(curve, 120.0, 40e3, False)
    celsius = curve.temperature_c(ohm)
    ways = {
        "one 5 kohm pot": rheostat_table_ohm(5e3, 75.0, 257),
        "one 10 kohm pot": rheostat_table_ohm(10e3, 75.0, 257),
        "a fixed resistor, E12": preferred_ohm("E12", 10.0, 1e6),
        "a fixed resistor, E24": preferred_ohm("E24", 10.0, 1e6),
    }
    rows = []
    for words, values in ways.items():
        within = (ohm >= values[0]) & (ohm <= values[-1])
        reached, target = ohm[within], celsius[within]
        above = np.clip(np.searchsorted(values, reached), 1, len(values) - 1)
        near = np.stack(
            [curve.temperature_c(values[above - 1]), curve.temperature_c(values[above])]
        )
        error = np.abs(near - target).min(axis=0)
        span = f"{words}, {target.min():.0f}..{target.max():.0f} degC"
        rows.append((span, name, f"{error.max():.2f}", "", f"{np.sqrt(np.mean(error**2)):.3f}", ""))
    return rows


def excursions(sheet: dict, boards: int) -> Table:
    rows, limits = [], []
    for name, curve in CURVES.items():
        all_moves, worst = [], []
        for seed in range(boards):
            ohm = targets(curve, 66.0, 80e3, bool(seed % 2))
            alpha = np.abs(curve.slope_ohm_per_k(curve.temperature_c(ohm))) / ohm
            choice = choose_codes(random_network(sheet, seed), ohm, SOURCE, alpha_per_k=alpha)
            moves = excursion_c(choice, curve)
            all_moves.append(moves)
            worst.append(moves.max())
        moves = np.concatenate(all_moves)
        p99 = float(np.quantile(moves, 0.99))
        rows.append((name, f"{np.mean(moves > 0.05):.3f}", f"{p99:.2f}", f"{np.median(worst):.1f}",
                     f"{max(worst):.1f}"))  # fmt: skip
        limits.append(Limit(f"{name}, p99 K", p99, 2.0))
        limits.append(Limit(f"{name}, worst K", max(worst), 15.0))
    header = ("curve", "part over 0.05 K", "p99 K", "median of worst", "worst K")
    title = f"Excursions while wipers are written, sweep 66 ohm..80 kohm, {boards} boards"
    return Table(title, header, rows, limits)


def speed(sheet: dict) -> Table:
    """Processor time, best of three: other work on the machine does not count."""
    network, curve = Network.from_board(sheet), CURVES["B"]

    def seconds(steps: int) -> float:
        wave = 50 + 45 * np.sin(np.linspace(0, 12, steps))
        ohm = curve.resistance_ohm(wave)
        best = np.inf
        for _ in range(3):
            begin = time.process_time()
            choose_codes(network, ohm, SOURCE)
            best = min(best, time.process_time() - begin)
        return float(best)

    seconds(100)
    times = {steps: seconds(steps) for steps in SPEED_STEPS}
    unit = times[10_000] / 10_000
    rows = [
        (f"{steps:,}", f"{1e3 * t:.1f}", f"{1e6 * t / steps:.1f}", f"{t / steps / unit:.2f}")
        for steps, t in times.items()
    ]
    plan_s, slower = seconds(PLAN_STEPS), pace()
    rows.append((f"{PLAN_STEPS:,}", f"{1e3 * plan_s:.1f}", f"{1e6 * plan_s / PLAN_STEPS:.1f}",
                 f"{plan_s / PLAN_STEPS / unit:.2f}"))  # fmt: skip
    limits = [
        Limit("36,000 steps, s of processor time at the usual pace", plan_s / slower, PLAN_LIMIT_S),
        Limit("time per step, 100,000 against 10,000", times[100_000] / 100_000 / unit, 1.5),
    ]
    note = f"this core is {slower:.2f} times slower than usual just now (pace.py)"
    return Table(
        "Speed of the choice", ("steps", "ms", "us per step", "ratio"), rows, limits, [note]
    )


def tables(boards: int = 12, full: bool = False) -> list[Table]:
    sheet, count = reference_sheet(), max(4, min(boards, 200 if full else 12))
    return [step_errors(sheet, count), excursions(sheet, count), speed(sheet)]
