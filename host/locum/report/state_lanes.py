"""States of the outputs in a drive's figure: a lane for each output, a pattern for each state."""

from __future__ import annotations

from typing import Any

from locum.report import style
from locum.report.data import StateSpan

Pattern = tuple[str, str]
_PATTERNS: tuple[Pattern, ...] = (
    (style.PALE, ""),
    (style.PAPER, "/////"),
    (style.PAPER, "....."),
    (style.PAPER, "xxxxx"),
    (style.SAND, "-----"),
    (style.PAPER, ""),
)
"""Fill and hatch of states, the one held longest first; from the sixth on they share the last."""


def minutes(seconds: float) -> float:
    return seconds / 60.0


def patterns_of(states: list[StateSpan]) -> dict[str, Pattern]:
    held: dict[str, float] = {}
    for span in states:
        held[span.name] = held.get(span.name, 0.0) + span.end_s - span.start_s
    names = sorted(held, key=lambda name: -held[name])
    return {name: _PATTERNS[min(n, len(_PATTERNS) - 1)] for n, name in enumerate(names)}


def draw_states(axes: Any, x: float, spans: list[StateSpan], pattern: Pattern) -> None:
    if not spans:
        return
    axes.bar(
        [x] * len(spans),
        [minutes(span.end_s - span.start_s) for span in spans],
        0.5,
        bottom=[minutes(span.start_s) for span in spans],
        facecolor=pattern[0],
        hatch=pattern[1],
        edgecolor=style.PETROL,
        linewidth=0.35,
    )


def key_of_states(axes: Any, patterns: dict[str, Pattern]) -> None:
    """What the patterns of the states mean, below the lanes."""
    from matplotlib.patches import Patch

    shown = list(patterns.items())[: len(_PATTERNS)]
    handles = [
        Patch(
            facecolor=fill,
            hatch=hatch,
            edgecolor=style.PETROL,
            linewidth=0.5,
            label=style.brief(name, 34),
        )
        for name, (fill, hatch) in shown
    ]
    if handles:
        axes.legend(
            handles=handles,
            loc="upper left",
            bbox_to_anchor=(0.0, -0.01),
            handlelength=1.6,
            handleheight=1.0,
            labelspacing=0.3,
            fontsize=6.5,
        )
