"""The module sheet: what the control module shows at the sensor connector, and its rules."""

from __future__ import annotations

from dataclasses import dataclass

from locum.physics.circuit import Stage, Thevenin
from locum.sheets.fields import SheetText, Table


@dataclass(frozen=True)
class ModuleSheet:
    """Pull-up, input and known rules of one control module."""

    name: str
    title: str
    source: Thevenin
    """What feeds the sensor: open voltage, pull-up, their standard uncertainties."""
    filter_s: float | None = None
    """Time constant of the input, where known. [s]"""
    confirm_s: float | None = None
    """How long a value must stand before the module acts on it. [s]"""
    low_v: float = 0.05
    """Below this the module calls the circuit shorted. [V]"""
    high_v: float = 4.95
    """Above this the module calls the circuit open. [V]"""
    refuse_below_c: float | None = None
    refuse_above_c: float | None = None
    """Temperatures outside which the watched state is refused. [degC]"""
    hysteresis_c: float = 0.0
    delay_s: float = 2.0
    """Longest time from cause to release, until it has been measured. [s]"""
    codes: tuple[str, ...] = ()
    """Fault codes that a stand-in can cause in this circuit, for the clearing list."""
    assumed: bool = False
    """True where nobody has measured it."""


ASSUMED = ModuleSheet(
    name="assumed",
    title="Pull-up not measured: 1 kohm to 5 V assumed",
    source=Thevenin(voc_v=5.0, rth_ohm=1000.0),
    assumed=True,
)
"""The hardest usual case for currents, taken where no module is given."""


def _stages(pull_up: Table) -> tuple[tuple[float, ...], float, float]:
    ohms = tuple(stage.number("ohm", 100, 100_000) for stage in pull_up.tables("stages", least=1))
    down = pull_up.number("switch_down_v", 0, 6, default=0.0)
    up = pull_up.number("switch_up_v", 0, 6, default=0.0)
    if len(ohms) == 2 and not (0 < down < up):
        pull_up.remark(
            "stage_voltages", "switch_down_v", "0 < switch_down_v < switch_up_v for two stages",
            f"{down:g} and {up:g}", "enter both voltages",
        )  # fmt: skip
    if len(ohms) > 2:
        pull_up.remark("stages", "stages", "one or two stages", str(len(ohms)), "take some out")
    return ohms, down, up


def read_module(text: str, name: str = "module") -> ModuleSheet:
    """The checked sheet; Refused with all faults and their lines."""
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    title = top.text("title", default=name)
    top.know("source", "confidence", "note")
    pull_up = top.table("pull_up")
    open_v = pull_up.number("open_v", 0.5, 20.0)
    u_open_v = pull_up.number("u_open_v", 0, 1, default=0.0)
    u_ohm = pull_up.number("u_ohm", 0, 10_000, default=0.0)
    ohms, down_v, up_v = _stages(pull_up)
    entry, rule = top.table("input"), top.table("rule")
    low_v = entry.number("low_v", 0, 5, default=0.05)
    high_v = entry.number("high_v", 0, 20, default=4.95)
    values = {
        "filter_s": entry.number("filter_s", 0, 60, required=False),
        "confirm_s": entry.number("confirm_s", 0, 600, required=False),
        "refuse_below_c": rule.number("refuse_below_c", -60, 200, required=False),
        "refuse_above_c": rule.number("refuse_above_c", -60, 300, required=False),
        "hysteresis_c": rule.number("hysteresis_c", 0, 50, default=0.0),
        "delay_s": rule.number("delay_s", 0, 60, default=2.0),
    }
    codes = tuple(str(c) for c in (top.table("codes").raw("possible") or ()))
    sheet.finish()
    hot_stage = (Stage(ohms[1], below_v=down_v, above_v=up_v),) if len(ohms) == 2 else ()
    source = Thevenin(open_v, ohms[0], u_open_v, u_ohm, stages=hot_stage)
    return ModuleSheet(name, title, source, low_v=low_v, high_v=high_v, codes=codes, **values)
