"""The workshop's settings: one commented TOML; any key also for one command, by ``--set KEY=VALUE``.

The table below is the only list of settings: the file's comments, the checks and what ``--set`` takes
come from it.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from locum.errors import Misuse, Refused, Remark
from locum.locations import settings_path
from locum.sheets.fields import SheetText
from locum.sheets.lookup import read_text

UNITS = ("celsius", "fahrenheit")
THEMES = ("auto", "day", "night", "contrast", "colourless")
GLYPHS = ("auto", "braille", "half", "ascii")


@dataclass(frozen=True)
class Settings:
    """What a workshop sets once."""

    unit: str = "celsius"
    """Temperatures on screens, pages and in what commands tell: celsius or fahrenheit. JSON, sheets and
    what is kept stay in degC."""
    theme: str = "auto"
    """day: dark on white for a bright workshop; night: dim for the passenger seat; contrast; colourless; auto: night, or colourless where the terminal has no colours."""
    glyphs: str = "auto"
    """What screens draw with: braille, half (half blocks), ascii; auto: the best that is safe on this terminal."""
    bell: bool = True
    """Ring the terminal's bell on a kick-out."""
    workshop: str = ""
    """Name at the head of reports."""
    technician: str = ""
    """Default author of findings."""
    casebook: str = ""
    """Path of the casebook; empty: the data folder of this computer's user."""
    board: str = ""
    """Port of the board, or virtual, or pi; empty: look for one, else virtual."""
    confidence: float = 0.95
    """Confidence of limits and of the quiet time asked for."""
    max_standing_min: float = 20.0
    """Longest stand-in by hand before the board goes home, extendable with a key. [min]"""


_given: dict[str, Any] = {}
"""Settings of this run alone, laid over the file's."""


def load_settings(path: Path | None = None) -> Settings:
    """The settings of that file, defaults where it has none, with what was given for this run laid
    over them; Refused with all faults."""
    path = path or settings_path()
    if not path.is_file():
        return replace(Settings(), **_given)
    settings = _read(SheetText.parse(read_text(path), path.name, check_schema=False))
    return replace(settings, **_given)


def give_settings(pairs: Sequence[str]) -> None:
    """Settings for this run alone, each ``KEY=VALUE``; those given before are forgotten.

    Raises
    ------
    Misuse
        If a key is unknown or a value is out of its range; all faults at once.
    """
    _given.clear()
    parts = [pair.partition("=") for pair in pairs]
    values = {key.strip(): value.strip() for key, _, value in parts}
    faults = [
        Remark("setting", "--set", "KEY=VALUE, such as unit=fahrenheit", f"'{pair}'", "write it so")
        for pair in pairs
        if "=" not in pair
    ]
    lines = [f"{key} = {_literal(key, value)}" for key, value in values.items()]
    try:
        settings = _read(SheetText.parse("\n".join(lines), "--set", check_schema=False))
    except Refused as refused:
        faults += refused.remarks
    if faults:
        raise Misuse(faults)
    _given.update({key: getattr(settings, key) for key in values})


def _literal(key: str, text: str) -> str:
    """What was typed for a key as TOML: bare where the key wants a number or true, else quoted."""
    usual = getattr(Settings(), key, "")
    bare = isinstance(usual, bool | float) and re.fullmatch(r"true|false|-?\d+(\.\d+)?", text)
    return text if bare else quoted(text)


def _read(sheet: SheetText) -> Settings:
    top, d = sheet.table(), Settings()
    settings = Settings(
        unit=top.choice("unit", UNITS, d.unit),
        theme=top.choice("theme", THEMES, d.theme),
        glyphs=top.choice("glyphs", GLYPHS, d.glyphs),
        bell=top.flag("bell", d.bell),
        workshop=top.text("workshop", d.workshop),
        technician=top.text("technician", d.technician),
        casebook=top.text("casebook", d.casebook),
        board=top.text("board", d.board),
        confidence=top.number("confidence", 0.5, 0.9999, d.confidence),
        max_standing_min=top.number("max_standing_min", 1, 240, d.max_standing_min),
    )
    sheet.finish()
    return settings


def quoted(text: str) -> str:
    """``text`` as a TOML string."""
    import json

    return json.dumps(text)


def commented_text(settings: Settings) -> str:
    """The settings as a TOML file with each key explained."""
    docs = meanings()
    lines = ["# Settings of locum. For one command alone: --set KEY=VALUE.", ""]
    for item in dataclasses.fields(settings):
        value = getattr(settings, item.name)
        shown = (
            str(value).lower()
            if isinstance(value, bool)
            else f"{value:g}"
            if isinstance(value, float)
            else quoted(str(value))
        )
        lines += [f"# {docs[item.name]}", f"{item.name} = {shown}", ""]
    return "\n".join(lines)


def meanings() -> dict[str, str]:
    """Field name -> the sentence beneath it in this file."""
    import ast
    import inspect

    body = ast.parse(inspect.getsource(Settings)).body[0].body  # type: ignore[attr-defined]
    docs: dict[str, str] = {}
    for node, following in zip(body, body[1:], strict=False):
        if isinstance(node, ast.AnnAssign) and isinstance(following, ast.Expr):
            text = ast.literal_eval(following.value)
            docs[node.target.id] = " ".join(text.split())  # type: ignore[union-attr]
    return docs
