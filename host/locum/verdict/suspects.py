"""Every possible seat of the fault, and what speaks for and against it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

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


Counts = Iterator[tuple[bool, str]]
"""Whether a count speaks for the seat, and the count in words."""


def _said(name: str, pool: Pool) -> tuple[list[str], list[str]]:
    """Plain counts for and against one seat."""
    counts = [count for of, said in SAID if name in of for count in said(pool)]
    return [text for good, text in counts if good], [text for good, text in counts if not good]


def _links(pool: Pool) -> Counts:
    """Kick-outs of the real sensor after glitches that the module answers by their length."""
    real = pool.bursts(masked=False)
    if not real or not pool.cold.measured:
        return
    linked = sum(b.linked for b in real)
    text = f"{linked} of {len(real)} kick-outs follow glitches long enough to be answered"
    shorter = sum(b.near and not b.linked for b in real)
    if shorter:
        limit_ms = 1000 * pool.cold.long_s
        text += f"; {shorter} more after shorter ones than {limit_ms:.0f} ms, not counted"
    yield linked > 0, text


def _under_stand_in(pool: Pool) -> Counts:
    hours = pool.hours(masked=True)
    if hours > 0:
        free = sum(not b.linked for b in pool.bursts(masked=True))
        yield free == 0, f"{free} kick-outs without a glitch in {hours:.1f} h under the stand-in"


def _under_mask(pool: Pool) -> Counts:
    seen = pool.answers("under_mask")
    if seen.total:
        what = f"{seen.total} long glitches of the real sensor measured under the mask"
        yield True, f"{what}, {seen.followed} followed"


def _on_the_line(pool: Pool) -> Counts:
    if pool.hours(masked=True) > 0:
        total = pool.answers("line", ("sensor",)).total
        yield (
            total > 0,
            f"{total} long glitches on the line while the stand-in replaced the sensor",
        )


def _bench(pool: Pool) -> Counts:
    if pool.evidence.bench:
        odd = any(b.suspicious for b in pool.evidence.bench)
        yield odd, "hot ohms " + ("differ from" if odd else "agree with") + " the thermometer"


def _return_shifts(pool: Pool) -> Counts:
    bursts = pool.bursts()
    if bursts and pool.evidence.known.has("return_offset"):
        hits = sum(b.offset for b in bursts)
        yield hits > 0, f"{hits} of {len(bursts)} kick-outs follow a shift of the return wire"


def _brake_pulses(pool: Pool) -> Counts:
    bursts = pool.bursts()
    if bursts and pool.evidence.known.has("brake"):
        hits = sum(b.brake_s is not None for b in bursts)
        text = f"{hits} of {len(bursts)} kick-outs follow a brake pulse too short for a foot"
        yield hits > 0, text


def _felt_alone(pool: Pool) -> Counts:
    if pool.evidence.known.has("button"):
        felt = pool.total("felt_only")
        yield felt > 0, f"felt {felt} times without a command"


def _driver(pool: Pool) -> Counts:
    if pool.evidence.known.has("button"):
        own = pool.total("own_pressed")
        yield own > 0, f"felt {own} times on the driver's own acts"
        bursts = pool.bursts()
        if bursts:
            yield False, f"{len(bursts)} kick-outs that no act of the driver explains"


SAID: tuple[tuple[tuple[str, ...], Callable[[Pool], Counts]], ...] = (
    (IN_CIRCUIT, _links),
    (IN_CIRCUIT, _under_stand_in),
    (("sensor", "its connector"), _under_mask),
    (("harness",), _on_the_line),
    (("sensor",), _bench),
    (("module input or ground",), _return_shifts),
    (("another input",), _brake_pulses),
    (("outputs or hydraulics",), _felt_alone),
    (("normal behaviour",), _driver),
)
"""What is counted for and against which seats."""
