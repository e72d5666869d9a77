"""The virtual board's pins: attributes that the virtual body reads and the engine sets."""

from __future__ import annotations

from typing import Any

from locum.bodies.sheet_abilities import ability_bits
from locum_board import records, steps
from locum_board.hands import Hands

ALL_ABILITIES = 1023


class VirtualHands(Hands):
    """Pins that are attributes. ``moved`` says that the module's load must be looked at again."""

    model = "virtual"
    sampled = False
    block_slots = 500

    def __init__(self, board_sheet: dict[str, Any], serial: str, boot_id: int) -> None:
        abilities = board_sheet.get("abilities", {})
        network = board_sheet.get("network", {})
        meter = board_sheet.get("ohmmeter", {})
        node = board_sheet.get("node", {})
        limits = board_sheet.get("limits", {})
        self.serial = serial
        self.boot_id = boot_id
        self.abilities = ability_bits(board_sheet) if abilities else ALL_ABILITIES
        self.wiper_count = len(network.get("wiper", ())) or 4
        self.line_count = int(abilities.get("watch_lines", 6))
        ranges = meter.get("ranges_ohm", [1500.0, 12050.0, 100750.0])
        self.range_milliohm = tuple(round(1000 * ohm) for ohm in ranges)
        full_v = float(node.get("vref_v", 3.3)) * float(node.get("divider", 2.0))
        self.node_full_0v1mv = round(full_v * 1e4)
        self.line_high_0v1mv = round(float(limits.get("line_high_v", 5.3)) * 1e4)
        self.line_low_0v1mv = round(float(limits.get("line_low_v", -0.5)) * 1e4)
        self.codes = [0, 0, 0, 0]
        self.out = [True, True, True, True]
        self.hot_branches = 0
        self.contact_kind = steps.THROUGH
        self.energised = 0
        self.range_number = records.RANGE_OFF
        self.moved = True
        self.relay_moved = False
        self.lamp = 0
        self.switch_open = 0
        self.comparator = 0
        self.cause = 0
        self.kept: dict[str, bytes] = {}
        self.supply = 1

    def relay(self, on: int) -> None:
        if on != self.energised:
            self.moved = self.relay_moved = True
        self.energised = on

    def wipers(self, w0: int, w1: int, w2: int, w3: int, hot: int) -> None:
        words = (w0, w1, w2, w3)
        self.codes = [word & steps.CODE_MASK for word in words]
        self.out = [bool(word & steps.OUT) for word in words]
        self.hot_branches = hot
        self.moved = True

    def contact(self, kind: int) -> None:
        self.contact_kind = kind
        self.moved = True

    def range(self, number: int) -> None:
        self.range_number = number

    def led(self, on: int) -> None:
        self.lamp = on

    def rest_switch(self) -> int:
        return self.switch_open

    def line_tripped(self) -> int:
        return self.comparator

    def keep_cause(self, cause: int) -> None:
        self.cause = cause

    def store(self, name: str, data: bytes) -> bool:
        self.kept[name] = bytes(data)
        return True

    def recall(self, name: str) -> bytes | None:
        return self.kept.get(name)

    def self_test(self) -> tuple[bool, str]:
        return True, "virtual board: nothing to read back"
