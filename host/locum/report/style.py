"""How our figures look: ink on paper, two accents told apart by shape and pattern as well.

No red, amber or green: colour never says good or bad here. Whatever a colour says is also said by
a marker's shape, a hatch or a word, so a page printed grey loses nothing. Figures are drawn without
pyplot (no global state, usable from any thread) and become SVG that stands inside the page.
"""

from __future__ import annotations

import html
import io
import re
import warnings
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK = "#17252e"
SOFT = "#5c6b73"
LINE = "#b9c3c7"
PALE = "#e6ebec"
PAPER = "#ffffff"
PETROL = "#155e75"
VIOLET = "#6b4596"
SAND = "#d8cfbd"

CONNECTED = {
    "real": ("real sensor", PAPER, ""),
    "stand_in": ("stand-in", SAND, ""),
    "follow": ("following", SAND, "////"),
    "open": ("open", SAND, "xxxx"),
    "short": ("short", SAND, "++++"),
    "blind": ("not told", PALE, "...."),
}
"""What is connected: words, fill, hatch."""

RELEASES = {
    "none": ("kick-out", "D", VIOLET, True),
    "driver": ("driver", "v", SOFT, False),
    "road": ("road", "s", SOFT, False),
    "ours": ("ours", "P", PETROL, False),
    "unknown": ("cause unknown", "o", SOFT, False),
}
"""Cause of a release: words, marker, colour, filled."""

_FONT_IN_SVG = "'DejaVu Sans', Verdana, Geneva, sans-serif"


def settings() -> dict[str, Any]:
    """matplotlib settings of all our figures."""
    return {
        "font.family": "DejaVu Sans",
        "font.size": 8.0,
        "text.color": INK,
        "text.parse_math": False,  # a $ in somebody's note is a dollar
        "axes.labelcolor": INK,
        "axes.edgecolor": SOFT,
        "axes.linewidth": 0.6,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.titlesize": 8.5,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.labelsize": 8.0,
        "xtick.color": SOFT,
        "ytick.color": SOFT,
        "xtick.labelcolor": INK,
        "ytick.labelcolor": INK,
        "xtick.labelsize": 7.5,
        "ytick.labelsize": 7.5,
        "xtick.major.width": 0.6,
        "ytick.major.width": 0.6,
        "xtick.major.size": 3.0,
        "ytick.major.size": 3.0,
        "hatch.linewidth": 0.5,
        "legend.frameon": False,
        "legend.fontsize": 7.5,
        "svg.fonttype": "none",
        "svg.hashsalt": "locum",
        "path.simplify": True,
    }


def drawing() -> AbstractContextManager[None]:
    """Draw inside this, so that nobody's own settings change our figures, nor ours theirs."""
    import matplotlib

    return matplotlib.rc_context(cast(Any, settings()))


def new_figure(width_mm: float, height_mm: float) -> Figure:
    """An empty figure of a size on paper. [mm]"""
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_mm / 25.4, height_mm / 25.4), layout="constrained")
    FigureCanvasSVG(figure)
    return figure


def brief(text: str, longest: int) -> str:
    """One line of at most ``longest`` letters for a place with little room."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= longest else line[: longest - 1] + "…"


def svg_text(figure: Figure, name: str, says: str) -> str:
    """The figure as SVG for the inside of a page: no address in it, its own ids, read aloud as
    ``says``. The same figure always gives the same text."""
    out = io.StringIO()
    with warnings.catch_warnings():
        # Letters stay letters in our SVG and are drawn by the reader's fonts, not by matplotlib's.
        warnings.filterwarnings("ignore", "Glyph")
        # Where labels leave no room for axes the page shows that; a reader cannot act on a warning.
        warnings.filterwarnings("ignore", "constrained_layout not applied")
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'\s(xmlns(:\w+)?|version)="[^"]*"', "", text)
    text = text.replace("xlink:href", "href")
    text = re.sub(r"\bid=\"", f'id="{name}-', text)
    text = re.sub(r'href="#', f'href="#{name}-', text)
    text = re.sub(r"url\(#", f"url(#{name}-", text)
    text = re.sub(r"'DejaVu Sans'(, [^;\"]*)?", _FONT_IN_SVG, text)
    label = html.escape(says, quote=True)
    return text.replace("<svg", f'<svg role="img" aria-label="{label}"', 1).strip()


def plain_numbers(axis: Any) -> None:
    """20 and 1000 on a logarithmic axis, not powers of ten."""
    from matplotlib.ticker import FuncFormatter, NullFormatter

    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_formatter(NullFormatter())
