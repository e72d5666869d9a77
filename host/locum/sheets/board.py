"""The board sheet: what a board can do, its limits, its network, its meters and its pins.

The checked sheet stays a plain dict in the sheet's own shape, with every default filled in;
:meth:`locum.physics.network.Network.from_board` and the engine's pins read it from there.
"""

from __future__ import annotations

from typing import Any

from locum.physics.layout import leaf_names, parse_layout
from locum.sheets.fields import SheetText, Table

BODIES = ("pico", "pi", "virtual")
FLAGS = (
    "stand_in",
    "node",
    "ohmmeter",
    "self_calibration",
    "follow",
    "open",
    "short",
    "glitch",
    "throttle_input",
    "mark_button",
    "rest_switch",
    "supply_watch",
    "second_node",
)
LIMITS = {
    # key: lowest, highest, default (None: must be there)
    "reach_low_ohm": (1.0, 1e5, None),
    "reach_high_ohm": (10.0, 1e7, None),
    "max_voc_v": (1.0, 6.0, None),
    "max_pull_up_v": (1.0, 20.0, 6.0),
    "supply_margin_v": (0.0, 1.0, 0.0),
    "line_low_v": (-2.0, 0.0, -0.5),
    "line_high_v": (1.0, 6.0, 5.3),
    "wiper_ma": (0.1, 50.0, None),
    "plan_wiper_ma": (0.1, 50.0, None),
}
MOST_WIPERS = 4
"""A step has four wiper words."""
MOST_HOT = 2
"""And two bits for hot branches."""
MOST_LINES = 6


def read_board(text: str, name: str = "board") -> dict[str, Any]:
    """The checked sheet; Refused with all faults and their lines.

    Returns
    -------
    dict
        ``id title body abilities limits network ohmmeter node sampling line pins``, defaults
        filled in; ``ohmmeter`` is empty where the board has none.
    """
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    top.know("source", "note")
    board: dict[str, Any] = {
        "schema": 1,
        "id": top.text("id", default=name),
        "title": top.text("title", default=name),
        "body": top.choice("body", BODIES, default="virtual"),
    }
    abilities = top.table("abilities")
    board["abilities"] = _abilities(abilities)
    board["limits"] = _limits(top.table("limits"))
    board["network"] = _network(top.table("network"), board["limits"])
    board["ohmmeter"] = _ohmmeter(top, board["abilities"])
    board["node"] = _node(top.table("node"))
    sampling = top.table("sampling")
    board["sampling"] = {
        "bucket_ms": sampling.whole("bucket_ms", 1, 1000, default=10),
        "reached_hz": sampling.number("reached_hz", 1.0, 1e5, default=1000.0),
        "reached_from": sampling.text("reached_from", default=""),
    }
    board["line"] = _lines(top, abilities, board["abilities"]["watch_lines"])
    board["pins"] = _pins(top.table("pins"))
    _agree(abilities, board)
    sheet.finish()
    return board


def _abilities(table: Table) -> dict[str, Any]:
    found: dict[str, Any] = {flag: table.flag(flag) for flag in FLAGS}
    found["watch_lines"] = table.whole("watch_lines", 0, MOST_LINES, default=0)
    found["hot_branches"] = table.whole("hot_branches", 0, MOST_HOT, default=0)
    return found


def _limits(table: Table) -> dict[str, Any]:
    found = {
        key: table.number(key, low, high, default, required=default is None)
        for key, (low, high, default) in LIMITS.items()
    }
    for low, high in (("reach_low_ohm", "reach_high_ohm"), ("plan_wiper_ma", "wiper_ma")):
        if None not in (found[low], found[high]) and found[low] > found[high]:
            table.remark(
                "order", low, f"{low} no higher than {high}", f"{found[low]:g} and {found[high]:g}"
            )
    return found


def _network(table: Table, limits: dict[str, Any]) -> dict[str, Any]:
    wipers = [_wiper(row, limits) for row in table.tables("wiper", least=1)]
    hot = [_hot(row) for row in table.tables("hot")]
    for rows, most, word in ((wipers, MOST_WIPERS, "wiper"), (hot, MOST_HOT, "hot")):
        if len(rows) > most:
            table.remark("too_many", word, f"at most {most} [[network.{word}]]", str(len(rows)))
    names = [row["name"] for row in wipers + hot]
    for name in sorted({n for n in names if names.count(n) > 1}):
        table.remark("same_name", "", "a name of its own for every branch", f"'{name}' twice")
    found: dict[str, Any] = {
        "series_ohm": table.number("series_ohm", 0.0, 1e6, default=0.0),
        "series_tolerance_pct": table.number("series_tolerance_pct", 0.0, 50.0, default=5.0),
        "wiper": wipers,
        "hot": hot,
    }
    usual = ("R0 + " if found["series_ohm"] else "") + "(" + " | ".join(names) + ")"
    found["layout"] = table.text("layout", default=usual)
    try:
        used = leaf_names(parse_layout(found["layout"]))
    except ValueError as error:
        table.remark("layout", "layout", "names, ohms, + and |", str(error), f"such as {usual}")
        return found
    for name in used:
        if name not in names and name != "R0":
            table.remark("layout", "layout", f"one of {', '.join(names)} or R0", f"'{name}'")
        elif used.count(name) > 1 and name == next(n for n in used if used.count(n) > 1):
            table.remark(
                "layout", "layout", "every part once", f"'{name}' {used.count(name)} times"
            )
            break
    for name in names:
        if name not in used:
            table.remark("layout", "layout", "every wiper and hot branch", f"'{name}' is missing")
    return found


def _wiper(row: Table, limits: dict[str, Any]) -> dict[str, Any]:
    taps = row.whole("taps", 2, 4096, default=257)
    found = {
        "name": row.text("name", default="?"),
        "part": row.text("part", default=""),
        "chip": row.whole("chip", 1, 8, default=1),
        "channel": row.whole("channel", 0, 3, default=0),
        "rab_ohm": row.number("rab_ohm", 100.0, 1e7, default=None),
        "rab_tolerance_pct": row.number("rab_tolerance_pct", 0.0, 50.0, default=20.0),
        "wiper_ohm": row.number("wiper_ohm", 0.0, 1000.0, default=75.0),
        "taps": taps,
        "divisor": row.whole("divisor", max(taps - 1, 1), 4096, default=max(taps - 1, 1)),
        "rating_ma": row.number("rating_ma", 0.1, 50.0, default=limits["wiper_ma"] or 2.5),
        "can_leave": row.flag("can_leave", default=True),
    }
    found["rab_ohm"] = found["rab_ohm"] or 10000.0
    return found


def _hot(row: Table) -> dict[str, Any]:
    return {
        "name": row.text("name", default="?"),
        "ohm": row.number("ohm", 1.0, 1e6, default=None) or 150.0,
        "tolerance_pct": row.number("tolerance_pct", 0.0, 20.0, default=1.0),
        "switch_ohm": row.number("switch_ohm", 0.0, 100.0, default=0.0),
    }


def _ohmmeter(top: Table, abilities: dict[str, Any]) -> dict[str, Any]:
    if "ohmmeter" not in top:
        top.know("ohmmeter")
        if abilities["ohmmeter"]:
            top.remark("missing", "ohmmeter", "a table [ohmmeter]", "nothing", "add its ranges")
        return {}
    table = top.table("ohmmeter")
    return {
        "ranges_ohm": table.numbers("ranges_ohm", default=[]),
        "range_tolerance_pct": table.number("range_tolerance_pct", 0.0, 10.0, default=0.1),
        "adc_bits": table.whole("adc_bits", 8, 24, default=12),
        "vref_v": table.number("vref_v", 0.5, 6.0, default=3.3),
        "supply_v": table.number("supply_v", 1.0, 40.0, default=5.3),
    }


def _node(table: Table) -> dict[str, Any]:
    return {
        "divider": table.number("divider", 1.0, 100.0, default=2.0),
        "adc_bits": table.whole("adc_bits", 8, 24, default=12),
        "vref_v": table.number("vref_v", 0.5, 6.0, default=3.3),
        "rate_hz": table.number("rate_hz", 1.0, 1e5, default=1000.0),
    }


def _lines(top: Table, abilities: Table, watched: int) -> list[dict[str, Any]]:
    rows = [
        {
            "input": row.whole("input", 1, MOST_LINES, default=1),
            "gpio": row.text("gpio", default=""),
            "kind": row.choice("kind", ("vehicle", "logic"), default="vehicle"),
        }
        for row in top.tables("line")
    ]
    if len(rows) != watched and not abilities.wrong("watch_lines"):
        top.remark(
            "lines", "line", f"{watched} [[line]], as many as watch_lines says",
            f"{len(rows)}", "make both the same",
        )  # fmt: skip
    return rows


def _pins(table: Table) -> dict[str, dict[str, int]]:
    found: dict[str, dict[str, int]] = {}
    for body in ("pico", "pi"):
        if body not in table:
            continue
        pins = table.table(body)
        found[body] = {signal: pins.whole(signal, 0, 53, required=True) for signal in pins}
        numbers = [number for number in found[body].values() if number is not None]
        for number in sorted({n for n in numbers if numbers.count(n) > 1}):
            shared = " and ".join(s for s, n in found[body].items() if n == number)
            table.remark("pin_twice", body, "a pin of its own for every signal",
                         f"GPIO {number} for {shared}")  # fmt: skip
    return found


def _agree(table: Table, board: dict[str, Any]) -> None:
    """Faults between the abilities and the other tables."""
    abilities, network = board["abilities"], board["network"]
    if abilities["hot_branches"] != len(network["hot"]) and not table.wrong("hot_branches"):
        table.remark(
            "hot_branches", "hot_branches", f"{len(network['hot'])}, as in [network]",
            f"{abilities['hot_branches']}", "make both the same",
        )  # fmt: skip
    for need, by in (("follow", "ohmmeter"), ("self_calibration", "ohmmeter")):
        if abilities[need] and not abilities[by]:
            table.remark("ability", need, f"{by} where {need} is", f"{need} without {by}")
