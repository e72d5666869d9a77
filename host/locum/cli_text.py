"""Results told in words, for a person at a terminal. One function per kind of result."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from locum import (
    cli_board_text,
    cli_case_text,
    cli_drive_text,
    cli_handover_text,
    cli_sensor_text,
)
from locum.cli_phrases import Whole, degrees, folded
from locum.ui.words import odds

Formatter = Callable[[dict], list[str]]
"""From a result as plain data to lines; :func:`tell` folds and prints them."""


def tell(result: Any, job: str = "") -> None:
    """Print what came of a job, named ``module:function``."""
    for line in formatter_of(result, job)(result.as_json()):
        for part in folded(line):
            print(part)


def formatter_of(result: Any, job: str) -> Formatter:
    """What puts a result into words: chosen by the job, else by the kind of result or its parents."""
    name = job.removeprefix("locum.jobs.")
    rooms = (cli_sensor_text, cli_case_text, cli_drive_text, cli_handover_text, cli_board_text)
    for room in rooms:
        if name in room.FORMATTERS:
            return room.FORMATTERS[name]
    kinds = (kind.__name__ for kind in type(result).__mro__)
    return next((FORMATTERS[kind] for kind in kinds if kind in FORMATTERS), _plain)


def _plain(document: dict, indent: str = "") -> list[str]:
    """Any document, one line a value; what is empty is left out."""
    lines = []
    for key, value in document.items():
        if key in ("warnings", "refusals") or value in (None, [], {}, ""):
            continue
        label = key.replace("_", " ")
        if isinstance(value, dict):
            lines += [f"{indent}{label}:", *_plain(value, indent + "  ")]
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            lines.append(f"{indent}{label}:")
            for row in value:
                lines.append(indent + "  " + ", ".join(_pair(k, v) for k, v in row.items() if v not in (None, "", [], {})))  # fmt: skip
        elif isinstance(value, list):
            lines.append(f"{indent}{label}: " + ", ".join(_short(v) for v in value))
        else:
            lines.append(f"{indent}{label}: {_short(value)}")
    return lines


def _pair(key: str, value: Any) -> str:
    return f"{key.replace('_', ' ')} {_short(value)}"


def _short(value: Any) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def _refusals(document: dict) -> list[str]:
    return [f"Refused. {r['text']}" for r in document.get("refusals", ())]


def _verb(d: dict) -> list[str]:
    lines = [
        f"{d['verb']}: {d['seconds'] / 60:.1f} min recorded as {d['drive']} ({d['ended']}).",
    ]
    if d["steps"]:
        by = (
            "as calibrated" if d["expanded_u_c"] is not None else "by nominal parts, not calibrated"
        )
        lines.append(
            f"{d['steps']} steps, none further than {d['worst_error_c']:.3f} K from its value ({by})."
        )
    lines.append(
        f"Kick-outs {d['kick_outs']}, releases {d['releases']}, glitches of the real sensor "
        f"{d['glitches']}; time that counts {d['exposure_h'] * 60:.1f} min."
    )
    if d["injected"]:
        lines.append(f"Given to the module: {d['injected']}, answered {d['answered']}.")
    if d.get("sentence"):
        lines.append(d["sentence"])
    end = "The real sensor is connected."
    if d["ended"] == "left":
        end = (
            "The board goes on by itself, STAND-IN until it comes home: `locum drive fetch` takes "
            "over what it keeps."
        )
    return [*lines, end, Whole(f"Casebook: {d['casebook']}")]


def _check(d: dict) -> list[str]:
    word = "Can be run." if d["ok"] else "Cannot be run."
    lines = [
        f"{d['name']} with sensor {d['sensor']}, module {d['module']}, board {d['board']}: {word}",
        f"{d['steps']} steps, {d['seconds'] / 60:.1f} min.",
        f"Step error worst {d['worst_error_c']:.4f} K, rms {d['rms_error_c']:.4f} K; with the plan's "
        f"resolution {d['worst_hold_c']:.3f} K.",
        f"While wipers move the line is off by {d['worst_excursion_c']:.2f} K at worst, for about 100 us.",
        f"Most current in one wiper {d['worst_branch_ma']:.2f} mA.",
    ]
    return lines + _refusals(d)


def _fit(d: dict) -> list[str]:
    lines = [f"{d['kind']}: " + ", ".join(f"{k} = {v:.9g}" for k, v in d["coefficients"].items())]
    lines += [f"Understood: {words}" for words in d["understood"]]
    for point, residual in zip(d["points"], d["residuals_c"], strict=True):
        lines.append(
            f"{degrees(point['celsius']):>14} {point['ohms']:12.2f} ohm   off by {residual:+.3f} K"
        )
    lines.append(f"Residuals: rms {d['rms_c']:.3f} K, worst {d['worst_c']:.3f} K.")
    return lines + ([Whole(f"Written to {d['out']}")] if d["out"] else [])


def _at(d: dict) -> list[str]:
    return [
        f"{degrees(p['celsius']):>14} {p['ohms']:12.2f} ohm {p['ohms_per_c']:+10.3f} ohm/K"
        for p in d["points"]
    ]


def _compare(d: dict) -> list[str]:
    unit = "per hour" if d["unit"] == "h" else "of drives"
    lines = [
        f"Chance of this or less if nothing had changed: p = {d['p_value']:.4f} ({d['convention']})."
    ]
    for when in ("before", "after"):
        limits = d[f"rate_{when}"]
        lines.append(
            f"{when} {d[when]}: between {_short(limits['low'])} and {_short(limits['high'])} {unit}."
        )
    needed = d["quiet_hours_needed"]
    amount = "hours" if d["unit"] == "h" else "drives"
    if needed is None:
        lines.append("No quiet time can prove it: nothing was counted before.")
    else:
        lines.append(f"Quiet {amount} needed after the repair: {needed:.2f}.")
    return lines


def _demo(d: dict) -> list[str]:
    v = d["verdict"]
    lines = ["", f"{d['title']}", ""]
    for drive in d["drives"]:
        given = f"; {drive['answered']} of {drive['given']} answered" if drive["given"] else ""
        lines.append(
            f"  {drive['kind']:<8} {drive['exposure_h']:4.2f} h, kick-outs {drive['kick_outs']:>2}: "
            f"{drive['words']}{given}"
        )
    lines += ["", *(f"  {x}" for x in d["numbers"]), "", v["sentence"], ""]
    lines.append(f"Step of proof: {v['proof']}; {odds(v['p_value'])}.")
    lines.append(f"{d['simulated_s'] / 3600:.1f} h played in {d['wall_s']:.1f} s.")
    return [*lines, Whole(f"Report:   {d['report']}"), Whole(f"Casebook: {d['casebook']}")]


def _trial(d: dict) -> list[str]:
    lines = [
        f"{d['cases']} cases: right {d['right']}, undecided {d['undecided']}, "
        f"blamed wrongly {d['blamed_wrongly']}, wrongly cleared {d['wrongly_cleared']}."
    ]
    return lines + _plain(
        {
            k: v
            for k, v in d.items()
            if k not in ("cases", "right", "undecided", "blamed_wrongly", "wrongly_cleared")
        }
    )


def _checks(d: dict) -> list[str]:
    return [
        f"{'good   ' if c['passed'] else 'LOOK AT'} {c['name']}: {c['detail']}" for c in d["checks"]
    ]


FORMATTERS = {
    "VerbResult": _verb,
    "CheckResult": _check,
    "FitResult": _fit,
    "AtResult": _at,
    "CompareResult": _compare,
    "DemoResult": _demo,
    "TrialResult": _trial,
    "CheckupResult": _checks,
}
