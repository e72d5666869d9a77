"""The board's test of itself (``*TST?``) in words, each fault with what to look at.

The board answers in a few words of its own (``drivers/selftest.py`` and the other bodies); what is
none of them is passed on as it stands.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from locum.link.board import Board

AT_REST = ("rest", "ready")
"""States in which a board looks at itself."""
UNPLUG = "unplug the vehicle and do not stand in until it is found"
FAULTS = (
    (r"potentiometer chip (\d)",
     "potentiometer {0} does not read back what was written",
     f"look at its solder joints, its select wire and its 5.3 V; {UNPLUG}"),
    (r"converter does not answer", "the converter does not answer",
     "look at its select and clock wires and its supply"),
    (r"converter reads half its reference as (\d+)",
     "the converter reads half its reference as {0} of 4096, not 2048",
     "look at the reference and its two equal resistors"),
    (r"potentiometer supply (\d+)", "the potentiometers' supply is {0} mV, not 5150 to 5450",
     "look at its regulator"),
    (r"USB supply (\d+)", "USB gives {0} mV, not 4400 to 5500",
     "another cable or socket; the laptop on its battery"),
    (r"relay at rest", "the relay does not rest, or the ohmmeter does not see the stand-in",
     f"{UNPLUG}; then look at the relay and the ohmmeter's resistors"),
    (r"standing in", "not looked at: the stand-in is connected", "ease back, then s tests again"),
)  # fmt: skip
"""What the board says -> what it means, and what to do."""
PASSED = (
    (r"pots, converter, rails, relay", "potentiometers, converter, supplies and relay as set"),
    (r"pots, converter", "potentiometers and converter as set"),
    (r"pots", "potentiometers as set"),
    (r"virtual board", "a virtual board has nothing to read back"),
    (r"nothing to test", "this board has nothing to read back"),
)


@dataclass(frozen=True)
class Fault:
    """One thing that was not as it should be."""

    words: str
    fix: str


@dataclass(frozen=True)
class SelfTest:
    """What the board found when it looked at itself."""

    passed: bool
    words: str
    faults: tuple[Fault, ...] = ()


def told(passed: bool, text: str) -> SelfTest:
    """The board's answer in words."""
    if passed:
        said = next((words for pattern, words in PASSED if re.search(pattern, text)), text)
        return SelfTest(True, said or "passed")
    parts = [part.strip() for part in text.split(";") if part.strip()]
    faults = tuple(_fault(part) for part in parts) or (_fault("no reason given"),)
    return SelfTest(False, "; ".join(fault.words for fault in faults), faults)


def _fault(text: str) -> Fault:
    for pattern, words, fix in FAULTS:
        found = re.search(pattern, text)
        if found:
            return Fault(words.format(*found.groups()), fix)
    return Fault(text, f"see the bring-up in hardware/README.md; {UNPLUG}")


def look_at_itself(board: Board, state: str) -> SelfTest | None:
    """Let a board at rest look at itself, some tens of milliseconds; None where it is not at rest.

    ``state`` is the engine's, as in the board's last status. Raises LinkTrouble as any question does.
    """
    if state not in AT_REST:
        return None
    found = told(*board.self_test())
    board.errors()  # a failed test also stands there, and must not be taken for a later command's
    return found
