"""Four themes of our own: day, night, contrast, and one for terminals or people without colours.

Colour carries nothing alone here; words, capitals, bold and reversed text carry it all, so that the
theme without colours says the same. The colours are few on purpose: text, quiet text, paper, raised
paper, one stress. Every pair that text is drawn in keeps a contrast of 4.5 or more (7 by day and in
``contrast``), also after a 16-colour terminal took the nearest of its own; a test measures that.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.filter import LineFilter
from textual.theme import Theme


@dataclass(frozen=True)
class Ink:
    """The colours of one theme."""

    text: str
    quiet: str
    """Captions and everything that stays as it is."""
    stress: str
    """Keys, and what has just happened."""
    rule: str
    paper: str
    raised: str
    """Typed lines, help."""
    dark: bool = True


INKS = {
    "day": Ink("#000000", "#333333", "#00205b", "#000000", "#ffffff", "#eeeeee", dark=False),
    "night": Ink("#c0a080", "#a08463", "#dcaa6e", "#4e4032", "#0a0806", "#16110c"),
    "contrast": Ink("#ffffff", "#ffffff", "#ffff00", "#ffffff", "#000000", "#000000"),
    "colourless": Ink("#ffffff", "#ffffff", "#ffffff", "#ffffff", "#000000", "#000000"),
}
INKS_16 = {
    **INKS,
    "day": Ink("#000000", "#000000", "#000080", "#000000", "#ffffff", "#ffffff", dark=False),
    "night": Ink("#c0c0c0", "#c0c0c0", "#808000", "#808080", "#000000", "#000000"),
}
"""The same of the sixteen that every terminal has: nothing is left to the nearest."""


def theme_of(name: str, colours: int = 256) -> Theme:
    """The theme as the drawing library wants it.

    Parameters
    ----------
    name : str
        day, night, contrast or colourless.
    colours : int
        How many the terminal has.
    """
    ink = (INKS if colours > 16 else INKS_16)[name]
    return Theme(
        name=name, primary=ink.rule, secondary=ink.quiet, accent=ink.stress,
        warning=ink.stress, error=ink.stress, success=ink.stress, foreground=ink.text,
        background=ink.paper, surface=ink.raised, panel=ink.raised, boost=ink.raised, dark=ink.dark,
        luminosity_spread=0.0, text_alpha=1.0, variables=_variables(ink),
    )  # fmt: skip


def _variables(ink: Ink) -> dict[str, str]:
    """Everything that would otherwise be blended from the few colours, and lose contrast by it."""
    text = ("text", "text-primary", "text-secondary", "text-warning", "text-error",
            "text-success", "text-accent", "footer-foreground", "footer-description-foreground",
            "button-foreground", "input-foreground")  # fmt: skip
    quiet = ("text-muted", "text-disabled", "foreground-muted", "foreground-disabled")
    paper = ("footer-background", "footer-description-background", "footer-item-background",
             "scrollbar-background", "scrollbar-background-hover", "scrollbar-background-active",
             "scrollbar-corner-color")  # fmt: skip
    rule = ("border", "border-blurred", "scrollbar", "scrollbar-hover", "scrollbar-active")
    return {
        **dict.fromkeys(text, ink.text),
        **dict.fromkeys(quiet, ink.quiet),
        **dict.fromkeys(paper, ink.paper),
        **dict.fromkeys(rule, ink.rule),
        "footer-key-foreground": ink.stress,
        "footer-key-background": ink.paper,
        "block-cursor-foreground": ink.paper,
        "block-cursor-background": ink.text,
        "block-cursor-text-style": "bold",
        "block-cursor-blurred-foreground": ink.text,
        "block-cursor-blurred-background": ink.raised,
        "block-cursor-blurred-text-style": "underline",
        "block-hover-background": ink.raised,
        "input-cursor-foreground": ink.paper,
        "input-cursor-background": ink.text,
        "input-cursor-text-style": "none",
        "input-selection-foreground": ink.paper,
        "input-selection-background": ink.quiet,
        "screen-selection-foreground": ink.paper,
        "screen-selection-background": ink.quiet,
        "link-color": ink.text,
        "link-color-hover": ink.text,
        "link-background-hover": ink.raised,
        "link-style": "none",
        "link-style-hover": "underline",
    }


def contrast(one: str | Color, other: str | Color) -> float:
    """Contrast of two colours, 1 to 21 (relative luminances of sRGB plus 0.05, as WCAG 2.2 has it)."""
    bright, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def _luminance(colour: str | Color) -> float:
    parts = (Color.parse(colour) if isinstance(colour, str) else colour).normalized
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


@lru_cache(1024)
def colourless(style: Style) -> Style:
    """The style without its colours. What stood light on dark by them alone becomes reversed."""
    reverse = bool(style.reverse) != _inverted(style)
    return Style(bold=style.bold, italic=style.italic, underline=style.underline,
                 strike=style.strike, reverse=reverse or None, meta=style.meta)  # fmt: skip


def _inverted(style: Style) -> bool:
    back = style.bgcolor
    if back is None or back.is_default:
        return False
    # In the colourless theme paper is black: whatever has a bright ground was meant to stand out.
    return _luminance(Color.from_rich_color(back)) > 0.5


class NoColours(LineFilter):
    """No colour reaches the terminal: its own two, bold, underline and reverse carry everything."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        return [
            Segment(text, colourless(style) if style is not None else None, control)
            for text, style, control in segments
        ]
