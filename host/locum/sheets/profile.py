"""The profile sheet: what temperature to be, when. TOML segments, or a CSV recording.

A segment is one of the seven kinds below, each an inline table; values are in the sheet's unit::

    schema = 1
    unit = "celsius"                 # or "fahrenheit", "ohm"
    [[segment]]
    hold = {at = 82.0, minutes = 5.0, wander = 0.3}
    [[segment]]
    ramp = {to = 95.0, rate_per_s = 0.2}       # or minutes = 8.0; from = where it stands
    [[segment]]
    sweep = {from = 20.0, to = 95.0, minutes = 10.0, times = 2}
    [[segment]]
    warmup = {from = 10.0, to = 88.0, tau_s = 320.0, minutes = 12.0}
    [[segment]]
    steps = {at = [20.0, 21.0, 22.0], dwell_s = 30.0}
    [[segment]]
    glitches = {at = 88.0, towards = "cold", length_ms = 300, every_s = 20.0, count = 6}
    [[segment]]
    recorded = {file = "drive.csv", time = "run_time_s", value = "coolant_c"}
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from locum.errors import Refused, Remark
from locum.sheets.fields import SheetText, Table
from locum.sheets.lookup import read_text
from locum.sheets.recorded import Recording, read_recording

UNITS = ("celsius", "fahrenheit", "ohm")
SEGMENTS = ("hold", "ramp", "sweep", "warmup", "steps", "glitches", "recorded")


@dataclass(frozen=True)
class Segment:
    """One checked ``[[segment]]``."""

    kind: str
    """One of ``SEGMENTS``."""
    values: dict[str, Any]
    """The keys of that kind, defaults filled in; temperatures in the sheet's unit."""
    where: str
    """Name and line, for remarks made later."""


@dataclass(frozen=True)
class ProfileSheet:
    """A checked profile: what temperature to be, when."""

    name: str
    title: str
    unit: str
    segments: tuple[Segment, ...]
    on_silence: str = "return"
    """What the board does when the computer is silent: ``return`` home, or ``finish`` the plan."""
    fast: bool = False
    """The author asks for rates above 0.3 K/s."""
    text: str = field(default="", repr=False)

    @property
    def recordings(self) -> list[tuple[str, Recording]]:
        """Where each recorded segment stands, and its recording."""
        found = [(part.where, part.values.get("recording")) for part in self.segments]
        return [(where, recording) for where, recording in found if recording is not None]

    @property
    def remarks(self) -> list[Remark]:
        """What was done about values that recordings lack."""
        return [remark for _, recording in self.recordings for remark in recording.remarks]


def _minutes(row: Table, default: float | None = None) -> float:
    return row.number("minutes", 0, 24 * 60, default=default) or 0.0


def _segment_values(kind: str, row: Table) -> dict[str, Any]:
    """Checked values of one segment; what a kind does not know is refused as unknown."""
    if kind == "hold":
        return {"at": row.number("at"), "minutes": _minutes(row),
                "wander": row.number("wander", 0, 20, required=False),
                "wander_period_s": row.number("wander_period_s", 5, 3600, default=60.0)}  # fmt: skip
    if kind == "ramp":
        values = {"from": row.number("from", required=False), "to": row.number("to")}
        values["minutes"] = row.number("minutes", 0, 24 * 60, required=False)
        values["rate_per_s"] = row.number("rate_per_s", 1e-6, 1e6, required=False)
        if (values["minutes"] is None) == (values["rate_per_s"] is None):
            found = "neither" if values["minutes"] is None else "both"
            row.remark("ramp_speed", "to", "minutes or rate_per_s", found, "give one of them")
        return values
    if kind == "sweep":
        return {"from": row.number("from"), "to": row.number("to"), "minutes": _minutes(row),
                "times": row.whole("times", 1, 1000, default=1)}  # fmt: skip
    if kind == "warmup":
        return {"from": row.number("from"), "to": row.number("to"),
                "tau_s": row.number("tau_s", 1, 1e5), "minutes": _minutes(row)}  # fmt: skip
    if kind == "steps":
        return {"at": row.numbers("at"), "dwell_s": row.number("dwell_s", 0.05, 86400)}
    return {"at": row.number("at", required=False),
            "towards": row.choice("towards", ("cold", "hot"), default="cold"),
            "by": row.number("by", 0.1, 400, required=False),
            "length_ms": row.whole("length_ms", 1, 60_000, required=True),
            "every_s": row.number("every_s", 0.05, 3600),
            "count": row.whole("count", 1, 10_000, required=True)}  # fmt: skip


def _recorded(row: Table, folder: Path | None) -> dict[str, Any]:
    file = row.text("file") or ""
    time, value = row.text("time", ""), row.text("value", "")
    path = (folder / file) if folder else Path(file)
    try:
        return {"recording": read_recording(read_text(path), path.name, time, value)}
    except Refused as refused:
        for remark in refused.remarks:
            row.remark(remark.code, "file", remark.wanted, f"{remark.where}: {remark.found}")
    return {"recording": None}


def _segment(row: Table, sheet: SheetText, n: int, folder: Path | None) -> Segment | None:
    kinds = [kind for kind in SEGMENTS if kind in row]
    row.know(*kinds)
    if len(kinds) != 1:
        found = " and ".join(kinds) or "none of them"
        row.remark("segment", "", f"one of {', '.join(SEGMENTS)}", found, "one kind per segment")
        return None
    kind = kinds[0]
    inner = row.table(kind)
    values = _recorded(inner, folder) if kind == "recorded" else _segment_values(kind, inner)
    return Segment(kind, values, sheet.where(("segment", n, kind)))


def read_profile(text: str, name: str = "profile", folder: Path | None = None) -> ProfileSheet:
    """The checked TOML profile; Refused with all faults and their lines."""
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    title = top.text("title", default=name)
    top.know("note", "source")
    unit = top.choice("unit", UNITS) or "celsius"
    on_silence = top.choice("on_silence", ("return", "finish"), default="return")
    fast = top.flag("fast")
    rows = top.tables("segment", least=1)
    segments = [_segment(row, sheet, n, folder) for n, row in enumerate(rows)]
    sheet.finish()
    return ProfileSheet(name, title, unit, tuple(s for s in segments if s), on_silence, fast, text)
