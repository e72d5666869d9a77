"""The workshop's settings: one commented TOML, every key also an option of the command line.

The table below is the only list of settings: the file's comments, the checks and the options come
from it, and a test compares it with the manual.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

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
    """Temperatures on screens and reports: celsius or fahrenheit."""
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


def load_settings(path: Path | None = None) -> Settings:
    """The settings of that file, defaults where it has none; Refused with all faults."""
    path = path or settings_path()
    if not path.is_file():
        return Settings()
    sheet = SheetText.parse(read_text(path), path.name, check_schema=False)
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


def commented_text(settings: Settings) -> str:
    """The settings as a TOML file with each key explained."""
    docs = _docs()
    lines = ["# Settings of locum. Every key is also an option of the command line.", ""]
    for item in dataclasses.fields(settings):
        value = getattr(settings, item.name)
        shown = (
            str(value).lower()
            if isinstance(value, bool)
            else f"{value:g}"
            if isinstance(value, float)
            else '"' + str(value).replace("\\", "\\\\").replace('"', '\\"') + '"'
        )
        lines += [f"# {docs[item.name]}", f"{item.name} = {shown}", ""]
    return "\n".join(lines)


def _docs() -> dict[str, str]:
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
