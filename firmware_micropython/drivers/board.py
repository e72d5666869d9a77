"""Which pin serves which signal, and what this board has: the one place on the board.

The numbers are those of ``[pins.pico]`` in ``hardware/boards``; a test compares them. Which board
this is stands in ``board.json`` beside the program, written when the firmware is put on, such as
``{"id": "starter"}``; without the file it is the reference board.
"""

import json

from locum_board import hands as bits

PINS = {
    "SCK": 18,
    "MOSI": 19,
    "MISO": 16,
    "CS_ADC": 17,
    "CS_POT10K": 20,
    "CS_POT100K": 21,
    "RELAY": 2,
    "HEART": 3,
    "CONN": 4,
    "SHORT": 5,
    "HOT1": 22,
    "HOT2": 1,
    "RANGE_1K5": 6,
    "RANGE_12K": 7,
    "RANGE_100K": 8,
    "WATCH1": 10,
    "WATCH2": 11,
    "WATCH3": 12,
    "WATCH4": 13,
    "WATCH5": 0,
    "WATCH6": 27,
    "TRIP": 9,
    "BUTTON": 14,
    "LED": 15,
    "REST": 28,
    "NODE2": 26,
}


class Description:
    """What a kind of board has. Class attributes are the reference board's."""

    id = "reference"
    signals = tuple(PINS)
    wipers = 4
    lines = 6
    converter = True
    node_full_0v1mv = 66000
    line_high_0v1mv = 53000
    vbus_low_0v1mv = 44000
    abilities = (
        bits.OHMMETER
        | bits.NODE
        | bits.CONTACT_OPEN
        | bits.CONTACT_SHORT
        | bits.HOT
        | bits.REST_SWITCH
        | bits.SUPPLY_WATCH
        | bits.THROTTLE
        | bits.MARK_BUTTON
        | bits.STAND_IN
    )


class Starter(Description):
    """Pico, one dual potentiometer, one relay with its pump, a buffered divider."""

    id = "starter"
    signals = (
        "SCK", "MOSI", "MISO", "CS_POT10K", "RELAY", "HEART", "BUTTON", "LED", "REST",
        "WATCH1", "WATCH2", "NODE2",
    )  # fmt: skip
    wipers = 2
    lines = 2
    converter = False
    line_high_0v1mv = 49000
    vbus_low_0v1mv = 0
    abilities = bits.NODE | bits.CONTACT_OPEN | bits.REST_SWITCH | bits.MARK_BUTTON | bits.STAND_IN


BOARDS = {"reference": Description, "starter": Starter}


def describe(path=None):
    """The description of this board. An unknown or unreadable file counts as the reference board."""
    path = path or __file__[: __file__.rfind("drivers")] + "board.json"
    try:
        with open(path) as file:
            return BOARDS[json.load(file)["id"]]
    except (OSError, ValueError, KeyError, TypeError):
        return Description
