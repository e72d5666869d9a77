"""What the commands about recordings say, and those that weigh them."""

from __future__ import annotations

import json

from locum.cli_case_text import drive_table
from locum.cli_phrases import Whole, count, listed, minutes, moment, short, short_id, table
from locum.report.number_words import NOTHING_TO_COMPARE, nothing_to_compare, number_words
from locum.ui import words


def listing(d: dict) -> list[str]:
    if not d["drives"]:
        return ["No recording yet. `locum listen` makes one."]
    return drive_table(d["drives"])


def show(d: dict) -> list[str]:
    where = f"case {short_id(d['case_id'])}" if d["case_id"] else "no case"
    board = d["board"]
    lines = [
        f"Recording {d['id']}, {where}",
        f"{d['kind']}, begun {moment(d['started_utc'])} UTC, "
        + (f"ended {moment(d['ended_utc'])} ({d['how']})" if d["ended_utc"] else "not ended"),
        f"Board {board.get('serial', '')} ({board.get('model', '')}), firmware "
        f"{board.get('firmware', '')}; {d['blocks']} blocks, {d['bytes'] / 1000:.1f} kB of record.",
    ]
    lines += listed("Sheets:", [f"{s['role']}: {s['name']}" for s in d["sheets"]])
    lines += listed("Stretches:", [stretch(s) for s in d["stretches"]])
    lines += listed("Marks:", [mark(m) for m in d["marks"]])
    gaps = [
        f"{minutes(g['t_ms'] / 1e3)} to {minutes(g['until_ms'] / 1e3)} {g['why']}"
        for g in d["gaps"]
    ]
    lines += listed("Record missing:", gaps)
    if d["review"]:
        lines += reviewed(d["review"])
    return lines


def stretch(s: dict) -> str:
    end = "..." if s["end_ms"] is None else minutes(s["end_ms"] / 1e3)
    felt = {None: "", True: ", something was felt", False: ", nothing was felt"}[s["felt"]]
    connected = s["connected"].replace("_", " ")
    return f"{minutes(s['start_ms'] / 1e3)} to {end}  {connected}, foot {s['foot']}{felt}"


def mark(m: dict) -> str:
    ago = f", {m['ago_ms'] / 1e3:.0f} s late" if m["ago_ms"] else ""
    said = words.MARK.get(m["kind"], m["kind"].replace("_", " "))
    return f"{minutes(m['t_ms'] / 1e3)}  {said}{ago} {m['note']}".rstrip()


def review(d: dict) -> list[str]:
    return [f"Recording {short_id(d['drive'])} reviewed by {d['version']}; earlier results stay.",
            *reviewed(d)]  # fmt: skip


MOST_SHOWN = 20


def reviewed(r: dict) -> list[str]:
    """Releases and glitches in the order they came, long lists cut short."""
    exposure = r["exposure"]
    releases = [x for x in r["releases"] if not x["repeat"]]
    glitches = [x for x in r["glitches"] if not x["ours"]]
    kick_outs = sum(x["cause"] == "none" for x in releases)
    lines = [
        f"{count(kick_outs, 'kick-out')} among {count(len(releases), 'release')}, "
        f"{count(len(glitches), 'glitch', 'glitches')} of the real sensor; "
        f"{exposure['exposed_s'] / 60:.1f} min that count of {exposure['recorded_s'] / 60:.1f} recorded."
    ]
    rows = [(minutes(x["t_ms"] / 1e3), release_words(x), x["from_state"]) for x in releases]
    if rows:
        lines += table(("at", "released", "state that was left"), rows[:MOST_SHOWN], "  ")
    rows = [
        (minutes(x["t_ms"] / 1e3), int(x["length_ms"]), words.TOWARDS.get(x["towards"], x["towards"]),
         f"{x['depth_k']:.0f}" if x.get("depth_k") is not None else "", x["place"])
        for x in glitches
    ]  # fmt: skip
    if rows:
        head = ("at", "glitch, ms", "direction", "kelvin off", "where")
        lines += table(head, rows[:MOST_SHOWN], "  ")
    lines += also_seen(r)
    more = len(releases) - MOST_SHOWN, len(glitches) - MOST_SHOWN
    if max(more) > 0:
        lines.append("The lists are cut short; --json has all, as has `locum drive export`.")
    return lines


def also_seen(r: dict) -> list[str]:
    """What is neither release nor glitch but tells of the wiring: one line, or none."""
    humming_s = sum(length for _, length in r.get("noise", ())) / 1e3
    unknown = [name for _, name in r["states"] if name.rpartition(": ")[2].startswith("?")]
    rows = [
        (len(r.get("noise", ())), f"interference on the line ({humming_s:.1f} s)"),
        (len(r["hunting"]), "spells of hunting"),
        (len(r["chatter"]), "bursts of chatter of an output"),
        (len(r["pulses"]), "pulses too short for a command (the module's own tests)"),
        (len(r["offset_events"]), "shifts of the return wire"),
        (len(unknown), f"patterns that no sheet names ({', '.join(sorted(set(unknown)))})"),
    ]
    told = [f"{what}: {n}" for n, what in rows if n]
    return [f"Also seen: {'; '.join(told)}."] if told else []


def release_words(x: dict) -> str:
    detail = x.get("cause_detail") or ""
    if x["cause"] == "none":
        return "KICK-OUT after a glitch" if x.get("linked_glitch") is not None else "KICK-OUT"
    return words.RELEASE_CAUSE.get(detail) or words.RELEASE_CAUSE.get(x["cause"], "")


def log(d: dict) -> list[str]:
    channels = ", ".join(f"{n} [{u or 'no unit'}]" for n, u in d["channels"].items())
    causes = ", ".join(f"{v} {words.RELEASE_CAUSE.get(k, k)}" for k, v in d["causes"].items())
    left = f", {d['left_out']} left out" if d["left_out"] else ""
    return [
        f"Read {d['rows']} rows{left}: {channels}.",
        f"Its first row is at {d['offset_s']:+.1f} s of the recording ({d['how']}).",
        f"Kick-outs before {short(d['kick_outs_before'])}, now {short(d['kick_outs'])}. "
        f"Releases: {causes or 'none'}.",
    ]


def export(d: dict) -> list[str]:
    return [Whole(f"{count(len(d['files']), 'table')} written to {d['out']}")]


def weigh(d: dict) -> list[str]:
    """The verdict for a person: conclusion, steps, suspects, and what to do next."""
    v = d["verdict"]
    lines = [v["sentence"], f"Step of proof: {words.PROOF.get(v['proof'], v['proof'])}."]
    if v["p_value"] is not None:
        lines.append(f"p = {short(v['p_value'])} ({v['convention']})")
    lines += ["", "Steps:"]
    for step in v["steps"]:
        lines.append(f"  [{'x' if step['reached'] else ' '}] {step['name']}: {step['observed']}")
        if step["missing"] and not step["reached"]:
            lines.append(f"        missing: {step['missing']}")
    lines += ["", "Suspects:"]
    for suspect in v["suspects"]:
        standing = words.STANDING.get(suspect["standing"], suspect["standing"])
        lines.append(f"  {suspect['name']}: {standing}")
        lines += [f"      + {reason}" for reason in suspect["speaks_for"]]
        lines += [f"      - {reason}" for reason in suspect["speaks_against"]]
    lines += ["", f"Rate before: {v['baseline']}." if v["baseline"] else ""]
    for number in v["numbers"]:
        # the rows behind a sum (chance_1, chance_2 ...) stand in the report and in --json
        sums = [(k, x) for k, x in number["inputs"].items() if not k.rpartition("_")[2].isdigit()]
        given = ", ".join(f"{k.replace('_', ' ')} {short(x)}" for k, x in sums)
        name = number_words(number["name"])
        if nothing_to_compare(number["test"], number["value"], number["inputs"]):
            lines.append(f"  {name}: {NOTHING_TO_COMPARE}")
            continue
        equals = "" if number["unit"] else "p = "
        lines.append(
            f"  {name}: {equals}{short(number['value'])} {number['unit']} from {given}".rstrip()
        )
    if v["next_drive"]:
        lines += ["", f"Next: {v['next_drive']['words']}", f"  because {v['next_drive']['why']}"]
        if v["missing_h"] is not None:
            lines.append(f"  About {short(v['missing_h'])} h that count are still needed.")
    return lines


def sentence(d: dict) -> list[str]:
    """Results that say themselves what came of them."""
    return [d["sentence"], *([Whole(f"Written to {d['out']}")] if d.get("out") else [])]


def profile_names(d: dict) -> list[str]:
    return [f"{x['name']}: {x['title']}" for x in d["profiles"]]


def settings(d: dict) -> list[str]:
    lines = [Whole(f"{'Set in' if d['exists'] else 'Not yet written:'} {d['path']}")]
    for row in d["settings"]:
        mark = "" if row["value"] == row["usual"] else " (changed)"
        value = (
            json.dumps(row["value"])
            if isinstance(row["value"], str | bool)
            else short(row["value"])
        )
        lines += [f"{row['key']} = {value}{mark}", f"    {row['means']}"]
    return [
        *lines,
        "For one command alone: --set KEY=VALUE. `locum settings --write` makes the file.",
    ]


FORMATTERS = {
    "drives:listing": listing, "drives:show": show, "drives:review": review,
    "drives:export": export, "drive_logs:log": log, "cases:weigh": weigh,
    "criteria:rule": sentence, "criteria:left": sentence, "capturing:capture": sentence,
    "learning:learn_sensor": sentence, "learning:learn_lines": sentence,
    "workshop_settings:show": settings,
    "profiles:names": profile_names,
}  # fmt: skip
"""Job, without the name of its package, to what puts its result into words."""
