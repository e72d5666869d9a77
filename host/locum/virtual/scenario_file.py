"""Scenario files of the trial (TOML, schema 1): read and checked whole, all faults at once.

Tables and keys are the dataclasses and fields of ``scenario.py``; what a file leaves out takes the
open example's value. A key that is no field is refused.
"""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import Any

from locum.sheets.fields import SheetText, Table
from locum.sheets.lookup import read_text

from .hidden import CONCLUSIONS, CULPRITS
from .scenario import Scenario, even_mix, usual_accept

__all__ = ["Scenario", "parse_scenario", "read_scenario"]

_TABLES = {
    item.name: item.default
    for item in fields(Scenario)
    if item.name not in ("title", "note", "mix", "accept")
}


def _fill(table: Table, example: Any) -> Any:
    """One dataclass from one table; what is absent or wrong keeps the example's value."""
    values: dict[str, Any] = {}
    for item in fields(example):
        usual = getattr(example, item.name)
        if isinstance(usual, bool):
            values[item.name] = table.flag(item.name, usual)
        elif isinstance(usual, tuple):
            values[item.name] = _pull_ups(table, item.name, usual)
        elif isinstance(usual, int):
            low, high = item.metadata["span"]
            values[item.name] = table.whole(item.name, low, high, usual)
        else:
            low, high = item.metadata["span"]
            values[item.name] = table.number(item.name, low, high, usual)
    return type(example)(**values)


def _pull_ups(table: Table, key: str, usual: tuple[float, ...]) -> tuple[float, ...]:
    ohms = table.numbers(key, default=list(usual))
    if not 1 <= len(ohms) <= 2 or not all(100 <= ohm <= 1e6 for ohm in ohms):
        table.remark(
            "pull_up", key, "one or two values of 100 ohm to 1 Mohm", str(ohms),
            "give one value, or the cold stage and the hot stage",
        )  # fmt: skip
        return usual
    return tuple(ohms)


def _mix(table: Table) -> dict[str, float]:
    if not list(table):
        return even_mix()
    mix = {name: table.number(name, 0, 1e6, default=0.0) for name in CULPRITS}
    if not any(mix.values()):
        table.remark("empty_mix", "", "at least one culprit above zero", "none", "raise one")
    return mix


def _accept(table: Table) -> dict[str, tuple[str, ...]]:
    accept = {}
    for name, usual in usual_accept().items():
        listed = table.raw(name)
        if listed is None:
            accept[name] = usual
            continue
        good = isinstance(listed, list) and listed and all(x in CONCLUSIONS for x in listed)
        if not good:
            wanted = f"a list of {', '.join(CONCLUSIONS)}"
            table.remark("unknown_conclusion", name, wanted, repr(listed), "correct the names")
        accept[name] = tuple(listed) if good else usual
    return accept


def _check_whole(top: Table, scenario: Scenario) -> None:
    module, innocent = scenario.module, scenario.innocent
    if len(module.pull_up_ohm) == 2 and not 0 < module.switch_down_v < module.switch_up_v:
        top.remark(
            "stage_voltages", "module", "0 < switch_down_v < switch_up_v for two stages",
            f"{module.switch_down_v:g} and {module.switch_up_v:g}", "enter both voltages",
        )  # fmt: skip
    if not module.refuse_top_below_c < 80 < module.refuse_top_above_c:
        top.remark(
            "rule", "module", "refuse_top_below_c under 80 and refuse_top_above_c over 80 degC",
            f"{module.refuse_top_below_c:g} and {module.refuse_top_above_c:g}",
            "a warm vehicle must be allowed its top gear",
        )  # fmt: skip
    if innocent.length_median_s > innocent.length_max_s:
        top.remark(
            "innocent_length", "innocent", "length_median_s not above length_max_s",
            f"{innocent.length_median_s:g} and {innocent.length_max_s:g}", "correct one",
        )  # fmt: skip


def parse_scenario(text: str, name: str = "scenario") -> Scenario:
    """The checked scenario of a text; Refused with every fault and its line."""
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    title = top.text("title", default=name)
    note = top.text("note", default="")
    tables = {key: _fill(top.table(key), example) for key, example in _TABLES.items()}
    scenario = Scenario(
        title, note, mix=_mix(top.table("mix")), accept=_accept(top.table("accept")), **tables
    )
    _check_whole(top, scenario)
    sheet.finish()
    return scenario


def read_scenario(path: Path | str) -> Scenario:
    """Raises ``Refused`` with a remark for every fault of the file, ``FileTrouble`` if unreadable."""
    path = Path(path)
    return parse_scenario(read_text(path), path.name)
