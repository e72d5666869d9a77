"""What is told in words of sensors, budgets, proposals of parts, and a board that measured itself."""

from __future__ import annotations

from locum.cli_phrases import Whole, degrees, table
from locum.physics.figures import plain

LIMITS = {
    "step": "the size of one step",
    "floor": "the lowest resistance it can make",
    "ceiling": "the highest resistance it can make",
    "current": "the current its wipers may carry",
    "supply": "a supply below the module's voltage",
}
JUDGED = {"in": "good", "out": "NOT good", "inconclusive": "undecided"}


def _judged(d: dict) -> list[str]:
    head = {
        "in": "This sensor is within its published limits.",
        "out": "This sensor is outside its published limits.",
        "inconclusive": "These readings cannot decide it.",
    }[d["judgement"]]
    rows = []
    for r in d["readings"]:
        allowed = "no limits known"
        if r["low_ohm"] is not None:
            allowed = f"{r['low_ohm']:.4g} to {r['high_ohm']:.4g}"
        rows.append((degrees(r["celsius"], 1), f"{r['ohms']:.4g} +- {plain(r['u_ohm'], 2)}", allowed,
                     f"{r['off_c']:+.1f} +- {r['u_c']:.1f}", JUDGED[r["judgement"]]))  # fmt: skip
    lines = [head, d["sentence"], ""]
    lines += table(("at", "read, ohm (U)", "allowed, ohm", "off, K (U)", ""), rows)
    return [*lines, "", "U is at k = 2: about 95 of 100 true values lie within."]


def _budget(d: dict) -> list[str]:
    lines = [f"{d['sensor']} on board {d['board']}, calibrated {d['calibrated']}."]
    for b in d["budgets"]:
        off = (b["set_ohm"] - b["ohms"]) / b["ohms"] * 100
        lines += ["", f"{degrees(b['celsius'], 1)} = {b['ohms']:.5g} ohm; set {b['set_ohm']:.5g} "
                      f"ohm ({off:+.3f} %)"]  # fmt: skip
        rows = [
            (row["name"], f"{row['u_ohm']:.3g}", f"{row['u_c']:.4f}", f"{100 * row['share']:.1f} %")
            for row in b["rows"] if row["u_ohm"] > 0
        ]  # fmt: skip
        lines += table(("contribution", "u, ohm", "u, K", "of variance"), rows, "  ")
        lines.append(f"  U (k = 2) {b['expanded_u_c']:.3f} K: what this module saw, on this curve.")
        if any(row["part"] == "tolerance" for row in b["rows"]):
            told = f"{b['expanded_u_with_tolerance_c']:.2f} K: what any such car would do."
        else:
            told = "cannot be told: the sheet states neither limits nor a tolerance."
        lines.append(f"  U with the sensor's tolerance {told}")
    return lines + [f"Refused. {r['text']}" for r in d["refusals"]]


def _design(d: dict) -> list[str]:
    span = f"{degrees(d['from_c'], 0)} to {degrees(d['to_c'], 0)}"
    lines = [
        f"{d['sensor']}, {span}, pull-up {d['pull_up_ohm']:g} ohm: {d['reaching']} of the networks "
        f"tried stay within {d['wanted_c']:g} K."
    ]
    for place, p in enumerate(d["proposals"], 1):
        word = "reaches it" if p["reaches"] else "does not"
        lines += ["", f"{place}. {p['topology']}: {word}, {p['worst_error_c']:.3g} K at worst, "
                      f"{p['rms_error_c']:.2g} K rms",
                  "   " + "; ".join(p["parts"]),
                  f"   limited at {degrees(p['limit_at_c'], 0)} by {LIMITS[p['limit']]}; at most "
                  f"{p['worst_branch_ma']:.2f} mA in a wiper"]  # fmt: skip
        if p["from_memory"]:
            lines.append(f"   check in the data sheet: {', '.join(p['from_memory'])}")
    lines += ["", "Beside these, on the same range (nominal parts):"]
    rows = [
        (s["what"], degrees(s["from_c"], 0), degrees(s["to_c"], 0), f"{s['worst_error_c']:.2f}",
         f"{100 * s['reached']:.0f} %")
        for s in d["simpler"]
    ]  # fmt: skip
    return lines + table(
        ("one part", "reaches from", "to", "worst K there", "of range"), rows, "  "
    )


def _calibrated(d: dict) -> list[str]:
    if not d["complete"]:
        return [f"Stopped after {d['readings']} more readings. Nothing is lost: "
                "`locum calibrate` goes on from here."]  # fmt: skip
    floors = ", ".join(f"{x:.0f}" for x in d["wiper_floor_ohm"])
    full = ", ".join(f"{x / 1000:.2f}" for x in d["full_scale_ohm"])
    lines = [
        f"Board {d['board']} is calibrated ({d['readings']} readings, {d['seconds']:.0f} s). "
        f"Calibration {d['calibration_id']}.",
        f"Wipers end at {floors} ohm and {full} kohm; fuse and switches {d['series_ohm']:.2f} ohm; "
        f"hot branches {', '.join(f'{x:.2f}' for x in d['hot_ohm'])} ohm.",
        f"Readings agree with the fit to {d['quality'].get('worst_residual_lsb', 0):.1f} counts at worst.",
    ]
    for row in d["verified"]:
        lines.append(f"Hand meter: {row['read_ohm']:.5g} ohm where {row['set_ohm']:.5g} ohm was set, "
                     f"{row['off_pct']:+.2f} %.")  # fmt: skip
    if not d["verified"]:
        lines.append("To verify with a hand meter: `locum calibrate --meter NAME --accuracy PCT "
                     "--verify SET=READ`, one low and one high value.")  # fmt: skip
    return [*lines, "Good for 6 months, within 20 K of this temperature."]


def _measured(d: dict) -> list[str]:
    lines = [
        f"Open voltage {d['voc_v']:.3f} V, pull-up {d['rth_ohm']:.1f} ohm "
        f"(standard uncertainty {d['u_rth_ohm']:.1f} ohm)."
    ]
    for stage in d["stages"]:
        lines.append(f"Two-stage pull-up: {stage['rth_ohm']:.0f} ohm once the line falls below "
                     f"about {stage['below_v']:.2f} V, when hot.")  # fmt: skip
    if not d["refusals"]:
        lines.append(f"Best further load: about {plain(d['best_load_ohm'], 2)} ohm.")
    lines += [f"Refused. {r['text']}" for r in d["refusals"]]
    return lines + ([Whole(f"Written to {d['out']}")] if d["out"] else [])


FORMATTERS = {
    "modules:measure": _measured,
    "sensor_judged:judge": _judged,
    "budgeting:budget": _budget,
    "designing:design": _design,
    "calibrating:calibrate": _calibrated,
}
