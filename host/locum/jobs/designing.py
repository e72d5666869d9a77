"""``locum design``: which parts and topology reach a wanted error."""

from __future__ import annotations

from dataclasses import dataclass, field

from locum.errors import Remark
from locum.jobs.circuit import open_sensor
from locum.jobs.jsontext import Result
from locum.physics.circuit import Thevenin
from locum.physics.design import Proposal, propose
from locum.physics.design_simple import Simple, simple_ways
from locum.settings import load_settings
from locum.sheets import values
from locum.sheets.parts import preferred_ohm, read_pots

SHOWN = 12
SUPPLY_V = 5.0


@dataclass
class DesignResult(Result):
    sensor: str
    from_c: float
    to_c: float
    pull_up_ohm: float
    wanted_c: float
    proposals: list[Proposal]
    reaching: int
    simpler: list[Simple] = field(default_factory=list)
    """What one part alone reaches on the same range."""
    warnings: list[Remark] = field(default_factory=list)


def design(
    sensor: str, start: str, end: str, pull_up: float = 1000.0, error: float = 0.5
) -> DesignResult:
    """Proposals ranked: those that reach the wanted error with the fewest parts first."""
    unit = load_settings().unit
    the_sensor = open_sensor(sensor)
    low, high = values.temperature_c(start, unit), values.temperature_c(end, unit)
    found = propose(
        the_sensor.curve, low, high, Thevenin(SUPPLY_V, pull_up), error, read_pots(),
        preferred_ohm("E24"),
    )  # fmt: skip
    reaching = sum(p.reaches for p in found)
    return DesignResult(
        the_sensor.name,
        low,
        high,
        pull_up,
        error,
        found[:SHOWN],
        reaching,
        simple_ways(the_sensor.curve, low, high),
        list(the_sensor.remarks),
    )
