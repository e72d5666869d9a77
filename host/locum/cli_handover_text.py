"""What the commands after the work say: hand-back, follow-up, the owner's data, closing."""

from __future__ import annotations

from locum.cli_case_text import signature_words, ticks
from locum.cli_phrases import count, moment, short, short_id


def hand_back(d: dict) -> list[str]:
    rest = sum(not row["done"] for row in d["hand_back"])
    return [
        *ticks(d["hand_back"]),
        "All done." if not rest else f"{count(rest, 'line')} still open.",
    ]


def follow_up(d: dict) -> list[str]:
    told, quiet = d["followed_up"], d["quiet"]
    lines = [
        f"{count(told['calls'], 'call').capitalize()}, {short(told['hours'])} h that count, kick-outs "
        f"{told['kick_outs']}" + (f"; {short(told['left_out_h'])} h left out." if told["left_out_h"] else ".")
    ]  # fmt: skip
    if quiet:
        asked = quiet["required_h"]
        lines.append(
            f"Quiet so far {short(quiet['driven_h'])} h"
            + (f" of {short(asked)} h asked for ({quiet['rule']})" if asked else "")
            + (": the rule is met." if quiet["met"] else ".")
        )
    return lines


def identity_show(d: dict) -> list[str]:
    rows = [f"{k}: {v}" for k, v in d["identity"].items()]
    return rows or [f"Nothing is kept on who case {short_id(d['case'])} belongs to."]


def identity_set(d: dict) -> list[str]:
    kept = ", ".join(d["fields_kept"]) or "nothing"
    return [f"Kept apart from case {short_id(d['case'])}: {kept}."]


def identity_erase(d: dict) -> list[str]:
    return [f"Erased: {count(d['erased'], 'field')} on the owner of case {short_id(d['case'])}."]


def close(d: dict) -> list[str]:
    lines = [f"Case {short_id(d['case'])} closed {moment(d['closed'])} UTC."]
    if d["signature"]:
        lines.append(f"It can be found by: {signature_words(d['signature'])}.")
    return lines


def reopen(d: dict) -> list[str]:
    other = f", see case {short_id(d['see'])}" if d["see"] else ""
    return [f"Case {short_id(d['case'])} is open again{other}."]


FORMATTERS = {
    "handover:hand_back": hand_back, "handover:follow_up": follow_up,
    "handover:identity_show": identity_show, "handover:identity_set": identity_set,
    "handover:identity_erase": identity_erase, "handover:close": close,
    "handover:reopen": reopen,
}  # fmt: skip
"""Job, without the name of its package, to what puts its result into words."""
