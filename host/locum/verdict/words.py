"""Conclusions a case may end with, and their families."""

from __future__ import annotations

CONCLUSIONS = {
    "sensor_side": "The sensor or its plug: beyond the point where the board was cut in.",
    "sensor_slow_error": "The sensor reads wrong slowly, without glitches.",
    "connector": "The sensor's connector.",
    "harness": "The harness between the sensor's plug and the module (or the input inside it).",
    "sensor_circuit": "The sensor circuit; which part of it is not told apart yet.",
    "circuit_not_reproduced_after_tap": (
        "The fault went quiet when the circuit was unplugged to cut in: its contacts are suspect."
    ),
    "module_or_ground": "The module or its ground: it goes on while the stand-in feeds the module.",
    "another_input": "Another input of the module: it goes on while the stand-in feeds the module.",
    "driver_or_brake_input": "The driver's foot or the brake input; the two are not told apart.",
    "not_sensor_circuit": "Not the sensor circuit: it goes on while the stand-in feeds the module.",
    "outputs_or_hydraulics": "Commands are good: outputs, solenoids or hydraulics.",
    "normal": "Normal behaviour: what was felt follows the driver's own acts.",
    "not_reproduced": "The complaint did not show; only a bound can be given.",
    "undecided": "Undecided.",
}

CIRCUIT = frozenset(
    (
        "sensor_side",
        "sensor_slow_error",
        "connector",
        "harness",
        "sensor_circuit",
        "circuit_not_reproduced_after_tap",
    )
)
"""Conclusions that blame the sensor circuit."""
CLEARS_CIRCUIT = frozenset(
    (
        "module_or_ground",
        "another_input",
        "driver_or_brake_input",
        "not_sensor_circuit",
        "outputs_or_hydraulics",
        "normal",
    )
)
"""Conclusions that say the sensor circuit is not to blame."""

STEPS = ("possible", "coincident", "sufficient", "necessary", "reversible", "found", "cured")
"""The steps of proof, in order."""
