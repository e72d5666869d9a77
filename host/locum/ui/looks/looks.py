"""The looks of one session: what the workshop asked for, and what its terminal can show of it.

A setting that names a glyph set or a theme wins; ``auto`` takes the best that is safe.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass

from textual.app import App
from textual.filter import LineFilter
from textual.theme import BUILTIN_THEMES

from locum.settings import Settings
from locum.ui.looks.glyphs import SETS, AsciiOnly, GlyphSet
from locum.ui.looks.terminal import Terminal, terminal_of
from locum.ui.looks.themes import INKS, NoColours, theme_of

LOOK_S = 0.1
REMOTE_LOOK_S = 0.25
"""Over a network a redraw costs some 14 kB: four a second are enough."""
LARGE = (100, 36)
"""Columns and rows from which on the glance is drawn large."""


@dataclass(frozen=True)
class Looks:
    """How screens draw."""

    glyphs: GlyphSet
    theme: str
    """The theme to begin with: day, night, contrast or colourless."""
    terminal: Terminal

    @property
    def look_s(self) -> float:
        """How often the screens look at the desk. [s]"""
        return REMOTE_LOOK_S if self.terminal.remote else LOOK_S

    def filters(self, theme: str) -> list[LineFilter]:
        """What everything goes through on its way to the terminal while that theme is on."""
        made: list[LineFilter] = [AsciiOnly()] if self.glyphs.name == "ascii" else []
        return [*made, NoColours()] if theme == "colourless" else made

    def dress(self, app: App) -> None:
        """Give the application our themes, ours only, and put on the chosen one."""
        for name in INKS:
            app.register_theme(theme_of(name, self.terminal.colours))
        app.theme = self.theme
        for name in BUILTIN_THEMES:
            if name in app.available_themes:
                app.unregister_theme(name)


def looks_for(
    settings: Settings, environ: Mapping[str, str] | None = None, platform: str = sys.platform
) -> Looks:
    """The looks that these settings ask for on the terminal of this environment."""
    terminal = terminal_of(os.environ if environ is None else environ, platform)
    glyphs = terminal.glyphs if settings.glyphs == "auto" else settings.glyphs
    theme = settings.theme
    if theme == "auto":
        theme = "night" if terminal.colours else "colourless"
    return Looks(SETS[glyphs], theme, terminal)


def looks_of(app: App) -> Looks:
    """The looks of a running application."""
    return getattr(app, "looks", None) or looks_for(Settings())
