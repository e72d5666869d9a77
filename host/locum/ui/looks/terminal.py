"""What a terminal can show: told from its environment, never by asking it.

Theory of operation. A wrong guess towards more gives boxes and question marks, a wrong guess towards
less only looks plainer: so everything that is not known to work counts as not working. Colours are
counted by the same rules that the drawing library uses when it writes them; where it would write
colours to a terminal that has none (``vt100`` and its kin), this says none.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass

COLOURLESS = ("vt", "dumb", "unknown", "ansi-m", "xterm-mono", "xterm-m")
"""Names of terminals, or how they begin, that have no colours."""
CONSOLES = ("linux", "fbcon", "cons25", "vt", "ansi", "sun")
"""Consoles whose fonts hold blocks at best, never braille."""
TRUE_COLOUR = 1 << 24


@dataclass(frozen=True)
class Terminal:
    """One terminal's means."""

    colours: int
    """0, 16, 256 or 2^24."""
    glyphs: str
    """The best glyph set that is safe: braille, half or ascii."""
    remote: bool
    """Reached over a network: every redraw costs."""


def terminal_of(environ: Mapping[str, str], platform: str = sys.platform) -> Terminal:
    """The terminal that this environment describes."""
    return Terminal(
        _colours(environ, platform), _glyphs(environ, platform), bool(environ.get("SSH_CONNECTION"))
    )


def _colours(environ: Mapping[str, str], platform: str) -> int:
    name = environ.get("TERM", "").strip().lower()
    if environ.get("NO_COLOR") or name.startswith(COLOURLESS):
        return 0
    if environ.get("COLORTERM", "").strip().lower() in ("truecolor", "24bit"):
        return TRUE_COLOUR
    if platform == "win32":
        return TRUE_COLOUR if environ.get("WT_SESSION") else 256
    return 256 if name.endswith(("-256color", "kitty")) else 16


def _glyphs(environ: Mapping[str, str], platform: str) -> str:
    if platform == "win32":  # its old console's fonts have no braille
        return "braille" if environ.get("WT_SESSION") else "half"
    # The first of these that is set decides, as the C library reads them.
    locale = next((v for k in ("LC_ALL", "LC_CTYPE", "LANG") if (v := environ.get(k))), "C")
    if "utf" not in locale.lower():
        return "ascii"
    name = environ.get("TERM", "").strip().lower()
    if name.startswith("vt"):
        return "ascii"
    return "half" if name.startswith(CONSOLES) else "braille"
