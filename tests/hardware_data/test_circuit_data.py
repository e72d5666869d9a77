"""The circuit data: rule check, pins, netlist, bill of materials, drawings."""

import csv
import io
import re
import tomllib
from pathlib import Path

import pytest
from circuit.model import NC, Builder, catalogue, e_text
from circuit.netlist import kicad_netlist
from simp_sexp import Sexp

from circuit import bom, pins, rules, sheets

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
BOARDS = ("reference", "starter", "pi")


def test_rule_check_is_clean(board, starter_board):
    assert rules.check(board) == []
    assert rules.check(starter_board) == []


def test_rules_find_what_they_are_for(board):
    def said(changed):
        return " ".join(rules.check(changed))

    assert "no resistor to GND" in said(board.without("R4"))
    assert "no TVS" in said(board.without("D110"))
    assert "without a pull-up" in said(board.without("R39"))
    assert "wanted SENS" in said(board.changed("K1", nets={"NC1": "NO1", "NO1": "SENS"}))
    assert "clamped to 3V3" in said(board.changed("D1", nets={"K": "3V3"}))
    assert "one leg only" in said(board.changed("R34", nets={"2": "NODE_HAFL"}))
    assert "pin table says RELAY" in said(
        board.changed("A1", nets={"GP2": "HEART", "GP3": "RELAY"})
    )
    assert "5 V chip drives MISO" in said(board.changed("U1", nets={"SDO": "MISO"}))
    assert "F1 alone" in said(board.changed("X1", nets={"TAP": "GND"}))
    assert "left open" in said(board.changed("U6", nets={"INBP": NC}))


def test_a_part_with_a_forgotten_leg_is_refused():
    builder = Builder("x", "x")
    with pytest.raises(ValueError, match="without a net"):
        builder.add("K1", "relay_mbb", COILP="A")


@pytest.mark.parametrize(
    ("ohm", "text"), [(33, "33R"), (2200, "2K2"), (11300, "11K3"), (100e3, "100K"), (1e7, "10M")]
)
def test_values_as_makers_print_them(ohm, text):
    assert e_text(ohm) == text


def test_pins_are_unique_and_outputs_boot_quietly():
    for table in (pins.PICO, pins.PI):
        assert len(set(table.values())) == len(table)
    assert set(pins.PICO) - set(pins.PI) == {"NODE2"}
    assert set(pins.PICO.values()) <= set(pins.PICO_HEADER)
    assert set(pins.PI.values()) <= set(pins.PI_HEADER)
    # BCM 0-8 are pulled up at boot, 9-27 down (BCM2835 peripherals manual, table of GPIO)
    assert all(pins.PI[s] >= 9 for s in ("RELAY", "HEART", "CONN", "SHORT", "HOT1", "HOT2"))
    assert all(pins.PI[s] <= 8 for s in pins.PI if s.startswith("RANGE"))


def test_fixed_pins_of_the_carriers():
    # RP2040 data sheet, table of GPIO functions: SPI0 RX/CSn/SCK/TX on GP16-19; ADC0 on GP26
    assert [pins.PICO[s] for s in ("MISO", "SCK", "MOSI", "NODE2")] == [16, 18, 19, 26]
    # Raspberry Pi header: SPI0 on BCM 9-11
    assert [pins.PI[s] for s in ("MISO", "MOSI", "SCK")] == [9, 10, 11]


@pytest.mark.parametrize("name", BOARDS)
def test_board_sheets_carry_the_pin_tables(name):
    text = (HARDWARE / "boards" / f"{name}.toml").read_text()
    sheet = tomllib.loads(text)
    if name != "pi":
        assert sheet["pins"]["pico"] == pins.pico_signals(name)
    if name != "starter":
        assert sheet["pins"]["pi"] == pins.PI
    assert len(sheet["line"]) == sheet["abilities"]["watch_lines"]
    assert sheets.merged(text, name) == text


def test_merging_keeps_what_was_written_by_hand():
    old = 'id = "x"\n\n[[line]]\ninput = 1\n\n[pins.pico]\nSCK = 3\n\n[limits]\nwiper_ma = 2.5\n'
    new = tomllib.loads(sheets.merged(old, "starter"))
    assert (new["id"], new["limits"]) == ("x", {"wiper_ma": 2.5})
    assert len(new["line"]) == 2
    assert new["pins"]["pico"]["SCK"] == 18


def test_firmware_reads_the_same_pins():
    """The Pico's program is compiled for other names nowhere: its table is ours."""
    source = (HARDWARE.parent / "firmware_micropython" / "drivers" / "board.py").read_text()
    said = {name: int(n) for name, n in re.findall(r'"([A-Z0-9_]+)": (\d+),', source)}
    assert {name: said[name] for name in pins.PICO} == pins.PICO


def test_rest_switch_reads_low_against_a_pull_up(board):
    """50 kohm inside the carrier, RP2040 takes below 0.8 V for low (from memory)."""
    to_ground = board["R23"].si
    assert 3.3 * to_ground / (to_ground + 50e3) < 0.5
    assert 4.4 * to_ground / (to_ground + board["R22"].si) > 2.0
    assert 5.25 * to_ground / (to_ground + board["R22"].si) < 3.3


def test_network_of_the_sheet_is_the_circuits(board):
    sheet = tomllib.loads((HARDWARE / "boards" / "reference.toml").read_text())
    assert [hot["ohm"] for hot in sheet["network"]["hot"]] == [board["RH1"].si, board["RH2"].si]
    rab = [w["rab_ohm"] for w in sheet["network"]["wiper"]]
    assert rab == [board[u].kind.figures["rab_ohm"] for u in ("U1", "U1", "U2", "U2")]
    ranges = [board["RPF1"].si + board[f"RK{n}"].si for n in (1, 2, 3)]
    assert sheet["ohmmeter"]["ranges_ohm"] == pytest.approx(ranges)
    figures = board["K2"].kind.figures, board["F2"].kind.figures
    series = board["RS1"].si + figures[0]["on_ohm"] + figures[1]["cold_ohm"]
    assert sheet["network"]["series_ohm"] == pytest.approx(series, rel=0.05)


def test_netlist_reads_back_as_the_circuit(board):
    text, report = kicad_netlist(board)
    assert "No errors or warnings" in report
    found = {}
    for net in Sexp(text).search("/export/nets/net"):
        name = next(item[1] for item in net if isinstance(item, list) and item[0] == "name")
        legs = [item for item in net if isinstance(item, list) and item[0] == "node"]
        found[name] = {(leg[1][1], str(leg[2][1])) for leg in legs}
    wanted = {n: {(ref, pin.number) for ref, pin in legs} for n, legs in board.nets().items()}
    assert {n: legs for n, legs in found.items() if n in wanted} == wanted


def test_bill_of_materials_counts_every_part(board):
    rows = list(csv.DictReader(io.StringIO(bom.as_csv(board))))
    assert sum(int(row["quantity"]) for row in rows) == len(board.parts)
    assert {ref for row in rows for ref in row["references"].split()} == set(board.parts)
    assert all(row[column] for row in rows for column in bom.COLUMNS)


def test_what_rests_on_memory_says_what_catches_it():
    for kind in catalogue().values():
        assert kind.source, kind.name
        if "memory" in kind.source and kind.prefix in "UKQ":
            assert kind.doubt, f"{kind.name} rests on memory without saying what catches it"
