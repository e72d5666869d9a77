"""The sensor's curve through its points, and how far each is off."""

from __future__ import annotations

from locum.report import style
from locum.report.data import CurveFacts
from locum.report.numbers import in_unit, sign_of


def curve_figure(curve: CurveFacts, name: str, unit: str = "celsius") -> str:
    """The sensor's points on a logarithmic scale of ohms. Empty without points."""
    if not curve.points_c:
        return ""
    points = [in_unit(celsius, unit) for celsius in curve.points_c]
    sign = sign_of(unit)
    with style.drawing():
        figure = style.new_figure(88.0, 62.0)
        if len(curve.residuals_c) == len(curve.points_c):
            axes, rest = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1))
            rest.axhline(0, color=style.LINE, linewidth=0.6)
            rest.vlines(points, 0, curve.residuals_c, color=style.VIOLET, linewidth=1.0)
            rest.plot(points, curve.residuals_c, "o", color=style.VIOLET, markersize=3)
            rest.set_ylabel("off, K")
            rest.set_xlabel(f"temperature, {sign}")
        else:
            axes = figure.subplots()
            axes.set_xlabel(f"temperature, {sign}")
        pairs = sorted(zip(points, curve.points_ohm, strict=True))
        axes.plot(
            *zip(*pairs, strict=True), "o-", color=style.PETROL, markersize=3.5, linewidth=0.8
        )
        axes.set_yscale("log")
        style.plain_numbers(axes.yaxis)
        axes.set_ylabel("ohm")
        spoken = f"Sensor {curve.name}: {len(pairs)} points from {pairs[0][0]:g} to {pairs[-1][0]:g} {sign}"
        return style.svg_text(figure, name, spoken)
