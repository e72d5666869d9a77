"""Writing a sensor sheet from a fit, so that reading it gives the same curve to the last digit."""

from __future__ import annotations

from typing import Any

from locum.physics.fit import Fit


def sensor_text(
    fit: Fit,
    title: str,
    source: str,
    confidence: str = "fitted to the points below",
    circuit: str = "",
) -> str:
    """A sensor sheet of a fit, points and uncertainty with it.

    ``read_sensor`` gives the same curve back to the last digit.
    """
    data = fit.curve.to_dict()
    lines = [
        "schema = 1",
        f"kind = {_quoted(data['kind'])}",
        f"title = {_quoted(title)}",
        f"source = {_quoted(source)}",
        f"confidence = {_quoted(confidence)}",
    ]
    if circuit:
        lines.append(f"circuit = {_quoted(circuit)}")
    low, high = fit.curve.span_c
    lines.append(f"span_c = [{low!r}, {high!r}]")
    if len(fit.celsius):
        lines += _residual_comment(fit)
        lines += ["point = [", *_point_lines(fit), "]"]
    if data["kind"] != "table":
        lines += ["", "[coefficients]"]
        lines += [f"{name} = {value!r}" for name, value in data["coefficients"].items()]
        lines += _uncertainty_lines(data)
    return "\n".join(lines) + "\n"


def _residual_comment(fit: Fit) -> list[str]:
    if fit.kind == "table":
        return ["", "# The curve goes through all of these points."]
    said = f"within {fit.worst_c:.3f} K (rms {fit.rms_c:.3f} K)"
    return ["", f"# The curve meets these points {said}."]


def _point_lines(fit: Fit) -> list[str]:
    """The rows as they were fitted; limits where the fit had them."""
    band = fit.band
    printed = band is not None and band.low.kind == "table" and band.source.startswith("limits")
    lines = []
    for celsius, ohm in zip(fit.celsius.tolist(), fit.ohms.tolist(), strict=True):
        limits = ""
        if printed and band is not None:
            low, high = band.limits_ohm(celsius)
            limits = f", ohms_low = {_short(low)}, ohms_high = {_short(high)}"
        lines.append(f"  {{ celsius = {celsius!r}, ohms = {ohm!r}{limits} }},")
    return lines


def _short(value: float) -> str:
    """A limit as it was printed: interpolation leaves it off in the last bits."""
    return repr(float(f"{value:.10g}"))


def _uncertainty_lines(data: dict[str, Any]) -> list[str]:
    lines = []
    for name in ("u_form_c", "u_r0_ohm"):
        if data.get(name):
            lines.append(f"{name} = {float(data[name])!r}")
    if data.get("covariance") is not None:
        rows = [
            "  [" + ", ".join(repr(float(value)) for value in row) + "],"
            for row in data["covariance"]
        ]
        lines += ["covariance = [", *rows, "]"]
    return ["", "[uncertainty]", *lines] if lines else []


def _quoted(text: str) -> str:
    """A TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'
