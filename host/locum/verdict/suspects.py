"""Every possible seat of the fault, and what speaks for and against it."""

from __future__ import annotations

from locum.verdict.conclude import Conclusion
from locum.verdict.finding import Suspect
from locum.verdict.pool import Pool
from locum.verdict.words import CIRCUIT, CLEARS_CIRCUIT

BLAMED = {
    "sensor": ("sensor_side", "sensor_slow_error", "sensor_circuit"),
    "its connector": ("sensor_side", "connector", "sensor_circuit", "circuit_not_reproduced_after_tap"),
    "harness": ("harness", "sensor_circuit", "circuit_not_reproduced_after_tap"),
    "module input or ground": ("module_or_ground",),
    "another input": ("another_input", "driver_or_brake_input"),
    "outputs or hydraulics": ("outputs_or_hydraulics",),
    "normal behaviour": ("normal",),
}  # fmt: skip
"""Seat -> conclusions that name it."""
IN_CIRCUIT = ("sensor", "its connector", "harness")
NEEDS = {
    "module input or ground": "return_offset",
    "another input": "brake",
    "outputs or hydraulics": "button",
    "normal behaviour": "button",
}
"""Seat -> channel without which it cannot be shown."""


def suspects(pool: Pool, conclusion: Conclusion) -> tuple[Suspect, ...]:
    """All seats, in the order of the circuit."""
    return tuple(_suspect(name, pool, conclusion) for name in BLAMED)


def _suspect(name: str, pool: Pool, conclusion: Conclusion) -> Suspect:
    speaks_for, speaks_against = _said(name, pool)
    if conclusion.name in BLAMED[name]:
        shared = sum(conclusion.name in names for names in BLAMED.values()) > 1
        standing = "possible" if shared and conclusion.name != "sensor_side" else "shown"
    elif (
        conclusion.name in CLEARS_CIRCUIT
        and name in IN_CIRCUIT
        or conclusion.name in CIRCUIT | CLEARS_CIRCUIT
        and speaks_against
        and not speaks_for
    ):
        standing = "cleared"
    elif not pool.evidence.known.has(NEEDS.get(name, "button")):
        standing = "not_knowable"
    else:
        standing = "possible"
    return Suspect(name, standing, tuple(speaks_for), tuple(speaks_against))


def _said(name: str, pool: Pool) -> tuple[list[str], list[str]]:
    """Plain counts for and against one seat."""
    bursts, masked = pool.bursts(), pool.bursts(masked=True)
    real = pool.bursts(masked=False)
    seen, line = pool.answers("under_mask"), pool.answers("line", ("sensor",))
    linked = sum(b.linked for b in real)
    speaks_for: list[str] = []
    against: list[str] = []

    def say(good: bool, text: str) -> None:
        (speaks_for if good else against).append(text)

    if name in IN_CIRCUIT and real and pool.cold.measured:
        say(
            linked > 0,
            f"{linked} of {len(real)} kick-outs follow glitches long enough to be answered",
        )
    if name in IN_CIRCUIT and pool.hours(masked=True) > 0:
        free = sum(not b.linked for b in masked)
        say(
            free == 0,
            f"{free} kick-outs without a glitch in {pool.hours(masked=True):.1f} h under the stand-in",
        )
    if name in ("sensor", "its connector") and seen.total:
        say(
            True,
            f"{seen.total} long glitches of the real sensor measured under the mask, {seen.followed} followed",
        )
    if name == "harness" and pool.hours(masked=True) > 0:
        say(
            line.total > 0,
            f"{line.total} long glitches on the line while the stand-in replaced the sensor",
        )
    if name == "sensor" and pool.evidence.bench:
        odd = any(b.suspicious for b in pool.evidence.bench)
        say(odd, "hot ohms " + ("differ from" if odd else "agree with") + " the thermometer")
    if name == "module input or ground" and bursts and pool.evidence.known.has("return_offset"):
        hits = sum(b.offset for b in bursts)
        say(hits > 0, f"{hits} of {len(bursts)} kick-outs follow a shift of the return wire")
    if name == "another input" and bursts and pool.evidence.known.has("brake"):
        hits = sum(b.brake_s is not None for b in bursts)
        say(
            hits > 0, f"{hits} of {len(bursts)} kick-outs follow a brake pulse too short for a foot"
        )
    if name == "outputs or hydraulics" and pool.evidence.known.has("button"):
        felt = pool.total("felt_only")
        say(felt > 0, f"felt {felt} times without a command")
    if name == "normal behaviour" and pool.evidence.known.has("button"):
        own = pool.total("own_pressed")
        say(own > 0, f"felt {own} times on the driver's own acts")
        if bursts:
            say(False, f"{len(bursts)} kick-outs that no act of the driver explains")
    return speaks_for, against
