"""One drive with time running down: what was connected, states held, glitches, kick-outs.

Time runs down because a drive is read as a list of what happened next. From the left: the
temperature, true and shown; a lane of what was connected; the states of each output; and the
glitches, leaning to the side they went, with the releases across all lanes.
"""

from __future__ import annotations

from typing import Any

from locum.report import style
from locum.report.data import DriveFacts, GlitchFacts, StateSpan
from locum.report.numbers import hours

WIDTH_MM = 88.0
MOST_GLITCHES = 400
"""More would be a black bar; the number beside the figure counts all of them."""


def drive_figure(drive: DriveFacts, name: str) -> str:
    """SVG of one drive. ``name`` keeps its ids apart from other figures of the page."""
    with style.drawing():
        height = min(max(70.0, 46.0 + drive.seconds / 3600.0 * 42.0), 135.0)
        figure = style.new_figure(WIDTH_MM, height)
        left, right = figure.subplots(1, 2, sharey=True, width_ratios=(1.0, 1.7))
        _temperature(left, drive)
        lanes = _lanes(right, drive)
        _releases(right, drive, lanes)
        _time_axis(left, drive)
        return style.svg_text(figure, name, _spoken(drive))


def _minutes(seconds: float) -> float:
    return seconds / 60.0


def _time_axis(axes: Any, drive: DriveFacts) -> None:
    axes.set_ylim(_minutes(max(drive.seconds, 1.0)), 0.0)
    axes.set_ylabel("minutes since start")
    if drive.warm_after_s and drive.warm_after_s < drive.seconds:
        axes.axhline(_minutes(drive.warm_after_s), color=style.SOFT, linewidth=0.6, linestyle=":")
        axes.annotate(
            "time can count",
            (0.02, _minutes(drive.warm_after_s)),
            xycoords=("axes fraction", "data"),
            xytext=(0, -2),
            textcoords="offset points",
            va="top",
            fontsize=6.5,
            color=style.SOFT,
        )


def _temperature(axes: Any, drive: DriveFacts) -> None:
    axes.set_title("sensor, °C")
    axes.xaxis.set_ticks_position("bottom")
    if not drive.temperature_s:
        axes.set_xticks([])
        axes.text(0.5, 0.5, "not recorded", transform=axes.transAxes, ha="center", color=style.SOFT)
        return
    t = [_minutes(second) for second in drive.temperature_s]
    true = [float("nan") if value is None else value for value in drive.temperature_c]
    axes.plot(true, t, color=style.PETROL, linewidth=1.2, label="true")
    if any(value is not None for value in drive.shown_c):
        shown = [float("nan") if value is None else value for value in drive.shown_c]
        axes.plot(shown, t, color=style.VIOLET, linewidth=1.1, linestyle=(0, (4, 2)), label="shown")
        axes.legend(loc="upper left", bbox_to_anchor=(-0.1, -0.06), ncols=1, handlelength=1.8)
    axes.margins(x=0.08)


def _lanes(axes: Any, drive: DriveFacts) -> float:
    """Draw lanes from left to right; the x where the glitch lane has its middle."""
    heads = ["input"]
    for stretch in drive.stretches:
        words, fill, hatch = style.CONNECTED.get(stretch.connected, (stretch.connected, "w", ""))
        top, depth = _minutes(stretch.start_s), _minutes(stretch.end_s - stretch.start_s)
        axes.bar(
            0.0,
            depth,
            0.8,
            bottom=top,
            facecolor=fill,
            hatch=hatch,
            edgecolor=style.SOFT,
            linewidth=0.5,
        )
        if depth > _minutes(drive.seconds) * 0.09:
            _label_down(axes, 0.0, top + depth / 2, words)
    if not drive.stretches:
        axes.text(0.0, _minutes(drive.seconds) / 2, "not noted", rotation=90, ha="center")
    lines = list(dict.fromkeys(span.line for span in drive.states))
    patterns = _patterns(drive.states)
    for number, line in enumerate(lines, start=1):
        heads.append(style.brief(line, 12) or "state")
        for span in drive.states:
            if span.line == line:
                _state(axes, float(number), span, patterns[span.name])
    _key_of_states(axes, patterns)
    middle = len(heads) + 0.1
    heads.append("cold ◂ ▸ hot")
    axes.axvline(middle, color=style.LINE, linewidth=0.6)
    for glitch in drive.glitches[:MOST_GLITCHES]:
        _glitch(axes, middle, glitch)
    axes.set_xlim(-0.6, middle + 0.75)
    axes.set_xticks([*range(len(heads) - 1), middle], heads)
    axes.xaxis.set_ticks_position("top")
    axes.tick_params(axis="x", length=0, labelsize=6.5)
    axes.tick_params(axis="y", length=0)
    axes.spines[["left", "bottom"]].set_visible(False)
    return middle


def _label_down(axes: Any, x: float, y: float, words: str) -> None:
    axes.text(
        x,
        y,
        style.brief(words, 30),
        rotation=90,
        ha="center",
        va="center",
        fontsize=6.5,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
    )


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


def _patterns(states: list[StateSpan]) -> dict[str, Pattern]:
    held: dict[str, float] = {}
    for span in states:
        held[span.name] = held.get(span.name, 0.0) + span.end_s - span.start_s
    names = sorted(held, key=lambda name: -held[name])
    return {name: _PATTERNS[min(n, len(_PATTERNS) - 1)] for n, name in enumerate(names)}


def _state(axes: Any, x: float, span: StateSpan, pattern: Pattern) -> None:
    axes.bar(
        x,
        _minutes(span.end_s - span.start_s),
        0.5,
        bottom=_minutes(span.start_s),
        facecolor=pattern[0],
        hatch=pattern[1],
        edgecolor=style.PETROL,
        linewidth=0.35,
    )


def _key_of_states(axes: Any, patterns: dict[str, Pattern]) -> None:
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


def _glitch(axes: Any, middle: float, glitch: GlitchFacts) -> None:
    """A stroke from the middle to its side; ours end in a cross, real ones in a point."""
    side = -0.45 if glitch.towards == "cold" else 0.45
    y = _minutes(glitch.t_s)
    colour = style.SOFT if glitch.ours else style.INK
    axes.plot([middle, middle + side], [y, y], color=colour, linewidth=0.8)
    mark = "x" if glitch.ours else ("o" if glitch.seen_on == "node" else "s")
    fill = "none" if glitch.seen_on == "ohmmeter" else colour
    axes.plot(
        [middle + side],
        [y],
        mark,
        markersize=3.2,
        markeredgecolor=colour,
        markerfacecolor=fill,
        markeredgewidth=0.8,
    )


def _releases(axes: Any, drive: DriveFacts, middle: float) -> None:
    number = 0
    for release in drive.releases:
        _, marker, colour, filled = style.RELEASES.get(release.cause, style.RELEASES["unknown"])
        y = _minutes(release.t_s)
        if release.cause == "none":
            number += 1
            axes.axhline(y, color=colour, linewidth=0.7, alpha=0.8)
            axes.annotate(
                str(number),
                (middle + 0.72, y),
                ha="right",
                va="bottom",
                fontsize=6.5,
                color=colour,
                annotation_clip=False,
            )
        axes.plot(
            [0.5],
            [y],
            marker,
            markersize=4.5,
            markeredgecolor=colour,
            markerfacecolor=colour if filled else "white",
            markeredgewidth=0.9,
        )


def _spoken(drive: DriveFacts) -> str:
    real = sum(not glitch.ours for glitch in drive.glitches)
    ours = len(drive.glitches) - real
    return (
        f"Drive {drive.kind}, {hours(drive.seconds / 3600)}: {drive.kick_outs} kick-outs, "
        f"{real} glitches of the real circuit, {ours} injected."
    )
