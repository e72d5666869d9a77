"""Abilities of a board sheet as the engine's bits."""

from __future__ import annotations

from typing import Any

from locum_board import hands

BITS = {
    "ohmmeter": hands.OHMMETER,
    "node": hands.NODE,
    "open": hands.CONTACT_OPEN,
    "short": hands.CONTACT_SHORT,
    "rest_switch": hands.REST_SWITCH,
    "supply_watch": hands.SUPPLY_WATCH,
    "throttle_input": hands.THROTTLE,
    "mark_button": hands.MARK_BUTTON,
    "stand_in": hands.STAND_IN,
}


def ability_bits(board_sheet: dict[str, Any]) -> int:
    """Sum of the bits of what a board has. An ability that is not named is not there."""
    abilities = board_sheet.get("abilities", {})
    found = sum(bit for name, bit in BITS.items() if abilities.get(name))
    return found | (hands.HOT if abilities.get("hot_branches") else 0)
