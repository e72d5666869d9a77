"""One drive with time running down: what was connected, states held, glitches, kick-outs.

Time runs down because a drive is read as a list of what happened next. From the left: the
temperature, true and shown; a lane of what was connected; the states of each output; and the
glitches, leaning to the side they went, with the releases across all lanes.
"""

from __future__ import annotations

from typing import Any

from locum.report import style
from locum.report.data import DriveFacts, GlitchFacts
from locum.report.numbers import hours, in_unit, sign_of
from locum.report.state_lanes import draw_states, key_of_states, minutes, patterns_of

WIDTH_MM = 88.0
MOST_GLITCHES = 400
"""More would be a black bar; the number beside the figure counts all of them."""


def drive_figure(drive: DriveFacts, name: str, unit: str = "celsius") -> str:
    """SVG of one drive. ``name`` keeps its ids apart from other figures of the page."""
    with style.drawing():
        height = min(max(70.0, 46.0 + drive.seconds / 3600.0 * 42.0), 135.0)
        figure = style.new_figure(WIDTH_MM, height)
        left, right = figure.subplots(1, 2, sharey=True, width_ratios=(1.0, 1.7))
        _temperature(left, drive, unit)
        lanes = _lanes(right, drive)
        _releases(right, drive, lanes)
        _time_axis(left, drive)
        return style.svg_text(figure, name, _spoken(drive))


def _time_axis(axes: Any, drive: DriveFacts) -> None:
    axes.set_ylim(minutes(max(drive.seconds, 1.0)), 0.0)
    axes.set_ylabel("minutes since start")
    if drive.warm_after_s and drive.warm_after_s < drive.seconds:
        axes.axhline(minutes(drive.warm_after_s), color=style.SOFT, linewidth=0.6, linestyle=":")
        axes.annotate(
            "time can count",
            (0.02, minutes(drive.warm_after_s)),
            xycoords=("axes fraction", "data"),
            xytext=(0, -2),
            textcoords="offset points",
            va="top",
            fontsize=6.5,
            color=style.SOFT,
        )


def _temperature(axes: Any, drive: DriveFacts, unit: str) -> None:
    axes.set_title(f"sensor, {sign_of(unit)}")
    axes.xaxis.set_ticks_position("bottom")
    if not drive.temperature_s:
        axes.set_xticks([])
        axes.text(0.5, 0.5, "not recorded", transform=axes.transAxes, ha="center", color=style.SOFT)
        return
    t = [minutes(second) for second in drive.temperature_s]
    true = [float("nan") if c is None else in_unit(c, unit) for c in drive.temperature_c]
    axes.plot(true, t, color=style.PETROL, linewidth=1.2, label="true")
    if any(value is not None for value in drive.shown_c):
        shown = [float("nan") if c is None else in_unit(c, unit) for c in drive.shown_c]
        axes.plot(shown, t, color=style.VIOLET, linewidth=1.1, linestyle=(0, (4, 2)), label="shown")
        axes.legend(loc="upper left", bbox_to_anchor=(-0.1, -0.06), ncols=1, handlelength=1.8)
    axes.margins(x=0.08)


def _lanes(axes: Any, drive: DriveFacts) -> float:
    """Draw lanes from left to right; the x where the glitch lane has its middle."""
    heads = ["input"]
    for stretch in drive.stretches:
        words, fill, hatch = style.CONNECTED.get(stretch.connected, (stretch.connected, "w", ""))
        top, depth = minutes(stretch.start_s), minutes(stretch.end_s - stretch.start_s)
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
        if depth > minutes(drive.seconds) * 0.09:
            _label_down(axes, 0.0, top + depth / 2, words)
    if not drive.stretches:
        axes.text(0.0, minutes(drive.seconds) / 2, "not noted", rotation=90, ha="center")
    lines = list(dict.fromkeys(span.line for span in drive.states))
    patterns = patterns_of(drive.states)
    for number, line in enumerate(lines, start=1):
        heads.append(style.brief(line, 12) or "state")
        for name, pattern in patterns.items():
            spans = [span for span in drive.states if (span.line, span.name) == (line, name)]
            draw_states(axes, float(number), spans, pattern)
    key_of_states(axes, patterns)
    middle = len(heads) + 0.1
    heads.append("cold ◂ ▸ hot")
    axes.axvline(middle, color=style.LINE, linewidth=0.6)
    _glitches(axes, middle, drive.glitches[:MOST_GLITCHES])
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


def _glitches(axes: Any, middle: float, glitches: list[GlitchFacts]) -> None:
    """Strokes from the middle to their side; ours end in a cross, real ones in a point on the
    module's input and in an empty square where they were kept from it."""
    kinds = {
        "ours": ("x", style.SOFT, style.SOFT),
        "node": ("o", style.INK, style.INK),
        "ohmmeter": ("s", style.INK, "none"),
    }
    for kind, (mark, colour, fill) in kinds.items():
        some = [g for g in glitches if ("ours" if g.ours else g.seen_on) == kind]
        if not some:
            continue
        ends = [middle + (-0.45 if glitch.towards == "cold" else 0.45) for glitch in some]
        at = [minutes(glitch.t_s) for glitch in some]
        axes.hlines(at, middle, ends, color=colour, linewidth=0.8)
        axes.plot(
            ends,
            at,
            mark,
            markersize=3.2,
            markeredgecolor=colour,
            markerfacecolor=fill,
            markeredgewidth=0.8,
        )


def _releases(axes: Any, drive: DriveFacts, middle: float) -> None:
    """One mark for each release; kick-outs also as numbered lines across all lanes."""
    known = style.RELEASES
    for cause, (_, marker, colour, filled) in known.items():
        at = [
            minutes(release.t_s)
            for release in drive.releases
            if (release.cause if release.cause in known else "unknown") == cause
        ]
        axes.plot(
            [0.5] * len(at),
            at,
            marker,
            markersize=4.5,
            markeredgecolor=colour,
            markerfacecolor=colour if filled else "white",
            markeredgewidth=0.9,
        )
        if cause != "none":
            continue
        axes.hlines(at, -0.6, middle + 0.75, color=colour, linewidth=0.7, alpha=0.8)
        for number, y in enumerate(at, start=1):
            axes.annotate(
                str(number),
                (middle + 0.72, y),
                ha="right",
                va="bottom",
                fontsize=6.5,
                color=colour,
                annotation_clip=False,
            )


def _spoken(drive: DriveFacts) -> str:
    real = sum(not glitch.ours for glitch in drive.glitches)
    ours = len(drive.glitches) - real
    return (
        f"Drive {drive.kind}, {hours(drive.seconds / 3600)}: {drive.kick_outs} kick-outs, "
        f"{real} glitches of the real circuit, {ours} injected."
    )
