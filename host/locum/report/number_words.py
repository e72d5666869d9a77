"""What each number of a verdict is, in words; for whoever reads it without the code beside it."""

from __future__ import annotations

from collections.abc import Mapping

NUMBERS = {
    "coincidence_linked": "kick-outs that come after a glitch of the circuit",
    "coincidence_near": "kick-outs with a glitch of the circuit nearby",
    "coincidence_brake_s": "kick-outs that come after a brake pulse too short for a foot",
    "coincidence_offset": "kick-outs that come after a shift of the return wire",
    "followed_unmasked_over_masked": "glitches followed by a kick-out, seen by the module against masked",
    "injected_over_blank": "given glitches answered, against blanks",
    "circuit_share": "kick-outs made by the circuit's glitches, masked ones with them",
    "real_over_stand_in": "kick-outs with the real sensor against the stand-in, within drives",
    "real_over_stand_in_whole_drives": "kick-outs with the real sensor against the stand-in, whole drives",
    "goes_on_under_stand_in": "kick-outs that go on under the stand-in",
    "glitches_on_line": "glitches of the line at the module's end against the sensor's",
    "quiet_since_tap": "quiet since the line was cut in elsewhere",
    "rate_bound": "most kick-outs an hour that the evidence allows",
    "rate_low": "kick-outs an hour, at least",
    "rate_high": "kick-outs an hour, at most",
    "own_acts_felt": "the driver's own acts felt as the complaint",
    "fault_would_have_shown": "a fault of that rate would have stayed hidden",
    "short_pulses_over_feet": "brake pulses too short for a foot",
    "kick_outs_over_background": "kick-outs beyond what drives without cause show",
    "felt_without_command": "felt with no change of command",
    "quiet_after_repair": "quiet after the repair",
    "quiet_hours_needed": "quiet time needed after the repair",
}
"""By the name the verdict gives a number; a test holds the two together."""


def number_words(name: str) -> str:
    """A number's name in words; an unknown one without its underscores."""
    return NUMBERS.get(name, name.replace("_", " "))


NOTHING_TO_COMPARE = "no drive has both, and a kick-out: nothing to compare within drives"


def nothing_to_compare(test: str, value: float, inputs: Mapping[str, float]) -> bool:
    """Whether a test drive by drive had no drive to say anything: its p = 1 is no finding."""
    rows = any(name.endswith("_1") for name in inputs)
    return test == "exact.stratified_conditional" and value == 1.0 and not rows
