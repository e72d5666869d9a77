"""Facts of the complaint and the circuit: sensor, module, how well the shown value is known."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Row:
    """One line of a table of facts, such as ``Sensor wire | pin 14, green | ``."""

    label: str
    value: str
    unit: str = ""
    note: str = ""


@dataclass
class ComplaintFacts:
    words: str = ""
    """In the customer's own words."""
    conditions: str = ""
    """When it shows: minutes after start, weather, road, load."""
    account: str = ""
    """The rate told, with its exposure and rule, as a sentence."""
    rule: str = ""
    """The case's rule for time that counts, in words."""


@dataclass
class CurveFacts:
    """The sensor's curve with its points, so that anyone can fit it again."""

    name: str = ""
    sha256: str = ""
    kind: str = ""
    source: str = ""
    coefficients: dict[str, float] = field(default_factory=dict)
    points_c: list[float] = field(default_factory=list)
    points_ohm: list[float] = field(default_factory=list)
    residuals_c: list[float] = field(default_factory=list)
    readings: list[Row] = field(default_factory=list)
    """Meter readings of this car's sensor, as taken."""
    judgement: str = ""
    """In, out or inconclusive, with its reason."""


@dataclass
class ModuleFacts:
    """The module's input as measured: open voltage and source resistance."""

    voc_v: float | None = None
    u_voc_v: float | None = None
    rth_ohm: float | None = None
    u_rth_ohm: float | None = None
    two_stage: bool = False
    readings: list[Row] = field(default_factory=list)


@dataclass
class BudgetRow:
    """One line of an uncertainty budget at a stated temperature."""

    name: str
    std_ohm: float | None = None
    std_c: float | None = None
    note: str = ""
