"""What is really wrong: the facts of a case that nobody but the score may see."""

from __future__ import annotations

from dataclasses import dataclass

CULPRITS = (
    "sensor_open",
    "sensor_drift",
    "harness",
    "connector",
    "ground",
    "another_input",
    "hydraulic",
    "nothing",
)
"""Names used in scenario files, in the order in which reports list them."""

DROPOUT_CULPRITS = frozenset({"sensor_open", "harness", "connector"})
"""Culprits whose kick-outs come from the sensor line leaving its value for a while."""

SENSOR_CIRCUIT = DROPOUT_CULPRITS | {"sensor_drift"}
"""Culprits that sit in the sensor circuit."""

CONCLUSIONS = (
    "sensor_side",
    "sensor_slow_error",
    "connector",
    "harness",
    "sensor_circuit",
    "circuit_not_reproduced_after_tap",
    "module_or_ground",
    "another_input",
    "driver_or_brake_input",
    "not_sensor_circuit",
    "outputs_or_hydraulics",
    "normal",
    "not_reproduced",
    "undecided",
)
"""Every way in which a case may end."""


@dataclass(frozen=True)
class Truth:
    """Hidden facts of one case."""

    culprit: str
    guilty: frozenset[str]
    """Every part that causes at least a tenth of the kick-outs."""
    bursts_per_exposed_h: float
    """This case's own rate; drives vary around it."""
    innocent_place: str
    """Where its harmless dropouts sit: a name of ``DROPOUT_CULPRITS``."""
    filter_s: float
    confirm_s: float
    delay_s: float
    """From the end of the module's confirm time to the release."""
    shortest_answered_s: float
    """Shortest break of the sensor line, warm, that this module answers; inf: none."""
    drift_c: float
    """How much too cold a drifted sensor reads, warm; 0 for all other culprits. [K]"""
