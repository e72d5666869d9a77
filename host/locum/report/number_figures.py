"""Figures of numbers: rates with limits, injected against answered, quiet time."""

from __future__ import annotations

from typing import Any

from locum.report import style
from locum.report.data import CountFacts, DriveFacts, QuietFacts, RateFacts
from locum.report.numbers import digits, hours, percent

LEAST_H = 1e-6
"""Less than some milliseconds is no time to have a rate in. [h]"""


def rates_figure(
    rates: list[RateFacts],
    confidence: float,
    name: str,
    width_mm: float = 88.0,
    counted: str = "kick-outs per hour that counts",
) -> str:
    """Kick-outs per hour that counts, with exact limits; an open end runs out of the picture."""
    with style.drawing():
        figure = style.new_figure(width_mm, 13.0 + 9.5 * len(rates))
        axes = figure.subplots()
        ends = [rate.high_per_h for rate in rates if rate.high_per_h is not None]
        top = max([*ends, *(_point(rate) for rate in rates), 0.1]) * 1.08
        for row, rate in enumerate(rates):
            masked = rate.connected.startswith(("stand", "follow"))
            low, high = rate.low_per_h or 0.0, rate.high_per_h
            _limits(axes, row, (low, _point(rate), high), top, masked, rate.events == 0)
            _over(axes, row, f"{rate.label} · {_of(rate)}")
        _rows_only(axes, len(rates))
        axes.set_xlim(0, top)
        axes.set_xlabel(f"{counted}\n(exact {percent(confidence)} limits)")
        return style.svg_text(figure, name, "; ".join(_spoken_rate(rate) for rate in rates))


def _point(rate: RateFacts) -> float:
    return rate.events / rate.hours if rate.hours > LEAST_H else 0.0


def _of(rate: RateFacts) -> str:
    return f"{rate.events} in {hours(rate.hours)}"


def _limits(
    axes: Any,
    row: int,
    values: tuple[float, float, float | None],
    top: float,
    masked: bool,
    none_seen: bool,
) -> None:
    """Low, estimate and high of one row; what was kept from the module is a square."""
    low, point, high = values
    colour = style.PETROL if masked else style.VIOLET
    end = top if high is None else high
    axes.plot([low, end], [row, row], color=colour, linewidth=2.0, solid_capstyle="butt")
    for x in (low,) if high is None else (low, end):
        axes.plot([x, x], [row - 0.14, row + 0.14], color=colour, linewidth=1.2, clip_on=False)
    if high is None:
        axes.plot([end], [row], ">", color=colour, markersize=4, clip_on=False)
    axes.plot(
        [point],
        [row],
        "s" if masked else "D",
        color=colour,
        markersize=5.5,
        markerfacecolor="white" if none_seen else colour,
        clip_on=False,
        zorder=5,
    )


def _over(axes: Any, row: float, words: str) -> None:
    """A row's words above it, so that they may be long."""
    axes.annotate(
        style.brief(words, 60),
        (0.0, row),
        xycoords=("axes fraction", "data"),
        xytext=(0, 6.5),
        textcoords="offset points",
        va="bottom",
        fontsize=7.5,
    )


def _rows_only(axes: Any, count: int) -> None:
    axes.set_yticks([])
    axes.set_ylim(count - 0.5, -0.75)
    axes.spines["left"].set_visible(False)


def _spoken_rate(rate: RateFacts) -> str:
    low = digits(rate.low_per_h or 0.0)
    high = "no limit" if rate.high_per_h is None else digits(rate.high_per_h)
    return f"{rate.label}: {_of(rate)}, {low} to {high} per hour"


def counts_figure(
    counts: list[CountFacts],
    confidence: float,
    name: str,
    width_mm: float = 88.0,
    counted: str = "answered by a kick-out",
) -> str:
    """Of so many offered so many were answered, with exact limits."""
    with style.drawing():
        figure = style.new_figure(width_mm, 13.0 + 9.5 * len(counts))
        axes = figure.subplots()
        for row, count in enumerate(counts):
            high = 1.0 if count.high is None else count.high
            share = count.answered / count.offered if count.offered else 0.0
            masked = count.group in ("masked", "sham")
            _limits(axes, row, (count.low or 0.0, share, high), 1.0, masked, not count.answered)
            _over(axes, row, f"{count.label} · {count.answered} of {count.offered}")
        _rows_only(axes, len(counts))
        axes.set_xlim(0, 1.02)
        axes.set_xticks([0, 0.25, 0.5, 0.75, 1], ["0", "25", "50", "75", "100 %"])
        axes.set_xlabel(f"{counted}\n(exact {percent(confidence)} limits)")
        spoken = "; ".join(f"{c.label}: {c.answered} of {c.offered} answered" for c in counts)
        return style.svg_text(figure, name, spoken)


def injected_figure(drives: list[DriveFacts], name: str) -> str:
    """Every glitch by its length, real and injected, answered or not. Empty if there is none."""
    rows = {
        "injected": [g for drive in drives for g in drive.glitches if g.ours],
        "real, seen by module": [
            g for d in drives for g in d.glitches if not g.ours and g.seen_on == "node"
        ],
        "real, kept from module": [
            g for d in drives for g in d.glitches if not g.ours and g.seen_on == "ohmmeter"
        ],
    }
    rows = {label: glitches for label, glitches in rows.items() if glitches}
    if not rows:
        return ""
    with style.drawing():
        figure = style.new_figure(88.0, 18.0 + 13.0 * len(rows))
        axes = figure.subplots()
        for row, glitches in enumerate(rows.values()):
            _dots(axes, row, glitches)
        for row, (label, glitches) in enumerate(rows.items()):
            _over(axes, row - 0.2, f"{label} · {_answered(glitches)}")
        _rows_only(axes, len(rows))
        axes.set_xscale("log")
        style.plain_numbers(axes.xaxis)
        axes.margins(x=0.06)
        axes.set_xlabel("length of glitch, ms")
        axes.plot([], [], "D", color=style.VIOLET, label="kick-out followed")
        axes.plot([], [], "o", color=style.SOFT, markerfacecolor="white", label="none followed")
        axes.plot([], [], "|", color=style.SOFT, label="could not tell")
        figure.legend(loc="outside lower center", ncols=3, handletextpad=0.2, columnspacing=1.2)
        spoken = "; ".join(f"{label}: {_answered(gs)}" for label, gs in rows.items())
        return style.svg_text(figure, name, spoken)


def _answered(glitches: list[Any]) -> str:
    told = [glitch for glitch in glitches if glitch.answered is not None]
    return f"{sum(bool(g.answered) for g in told)} of {len(told)} answered"


_LANES = {
    True: (-0.16, "D", style.VIOLET, style.VIOLET),
    None: (0.0, "|", style.SOFT, style.SOFT),
    False: (0.16, "o", style.SOFT, "white"),
}
"""Answered, could not be told, not answered: where in the row, marker, edge, fill."""


def _dots(axes: Any, row: int, glitches: list[Any]) -> None:
    """The glitches of one row, spread apart without chance: the same data, the same picture."""
    for answered, (lane, mark, colour, fill) in _LANES.items():
        some = [(n, g) for n, g in enumerate(glitches) if g.answered is answered]
        axes.plot(
            [max(glitch.length_ms, 0.5) for _, glitch in some],
            [row + lane + ((n * 0.618034) % 1.0 - 0.5) * 0.22 for n, _ in some],
            mark,
            markersize=4.0,
            markeredgecolor=colour,
            markerfacecolor=fill,
            markeredgewidth=0.8,
        )


def quiet_figure(quiet: QuietFacts, name: str, width_mm: float = 88.0) -> str:
    """Hours driven quietly against the hours asked for beforehand."""
    with style.drawing():
        figure = style.new_figure(width_mm, 28.0)
        axes = figure.subplots()
        top = max(quiet.driven_h, quiet.required_h or 0.0, 0.1) * 1.12
        ours = quiet.driven_h - quiet.customer_h
        axes.barh(0, ours, 0.42, facecolor=style.PETROL, edgecolor=style.PETROL, label="we drove")
        if quiet.customer_h:
            axes.barh(
                0,
                quiet.customer_h,
                0.42,
                left=ours,
                facecolor="white",
                hatch="////",
                edgecolor=style.PETROL,
                label="customer drove",
            )
        if quiet.required_h is not None:
            axes.plot([quiet.required_h] * 2, [-0.45, 0.4], color=style.INK, linewidth=1.4)
            axes.annotate(
                f"asked for: {hours(quiet.required_h)}",
                (quiet.required_h, -0.45),
                ha="right" if quiet.required_h > top / 2 else "left",
                va="bottom",
                fontsize=7.5,
            )
        axes.set_ylim(0.5, -0.8)
        axes.set_xlim(0, top)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("hours that count, after the repair")
        if quiet.customer_h:
            figure.legend(loc="outside lower center", ncols=2, handlelength=1.4)
        asked = "nothing" if quiet.required_h is None else hours(quiet.required_h)
        spoken = f"{hours(quiet.driven_h)} driven, {asked} asked for, {quiet.kick_outs} kick-outs"
        return style.svg_text(figure, name, spoken)
