"""What the casebook's commands say: one function per command, by the job that it calls."""

from __future__ import annotations

from typing import Any

from locum.cli_phrases import Whole, count, day, listed, moment, short, short_id, table


def new(d: dict) -> list[str]:
    lines = [f"Case {short_id(d['id'])}: {d['title']}"]
    if d["sheets"]:
        lines.append(f"Copied into it: the sheets of {', '.join(d['sheets'])}.")
    return [*lines, Whole(f"To record for it: locum listen --case {short_id(d['id'])}")]


def listing(d: dict) -> list[str]:
    rows = [
        (short_id(c["id"]), day(c["opened"]), day(c["closed"]) or "open", c["drives"], c["title"])
        for c in d["cases"]
    ]
    lines = table(("id", "opened", "closed", "recordings", "title"), rows) if rows else []
    lines = lines or ["No case yet. `locum case new TITLE` opens one."]
    if d["unfiled_drives"]:
        some = ", ".join(short_id(x["id"]) for x in d["unfiled_drives"][:5])
        more = ", ..." if len(d["unfiled_drives"]) > 5 else ""
        lines.append(
            f"{count(len(d['unfiled_drives']), 'recording')} without a case: {some}{more}. "
            "File them with `locum case attach CASE RECORDING`."
        )
    return lines


def find(d: dict) -> list[str]:
    if not d["cases"]:
        return ["No case fits. Fewer words find more; `locum case list` shows all."]
    return hits(d["cases"])


def hits(cases: list[dict]) -> list[str]:
    lines = []
    for hit in cases:
        lines.append(f"{short_id(hit['id'])}  {hit['title']}")
        if hit["snippet"] and hit["snippet"] != hit["title"]:
            lines.append(f"          {hit['snippet']}")
    return lines


def show(d: dict) -> list[str]:
    state = f"closed {day(d['closed_utc'])}" if d["closed_utc"] else "open"
    lines = [f"Case {d['id']}, opened {day(d['opened_utc'])}, {state}", d["title"], ""]
    for name, value in d["fields"].items():
        if name not in ("title", "remarks"):
            lines += field_lines(name.replace("_", " "), value)
    if d["drives"]:
        lines += ["", "Recordings:", *drive_table(d["drives"], "  ")]
    lines += listed("Sheets:", [f"{s['role']}: {s['name']}" for s in d["sheets"]])
    lines += listed("Written down:", [entry(f) for f in d["findings"] if entry(f)])
    kept = [
        f"{a['name']} ({a['size'] / 1000:.1f} kB) {a['note']}".strip() for a in d["attachments"]
    ]
    lines += listed("Enclosed:", kept)
    told = d["followed_up"]
    if told["calls"]:
        lines.append(
            f"Follow-up: {count(told['calls'], 'call')}, {short(told['hours'])} h that count, "
            f"kick-outs {told['kick_outs']}."
        )
    if any(row["done"] for row in d["hand_back"]):
        lines += ["Hand-back:", *(f"  {line}" for line in ticks(d["hand_back"]))]
    return lines


def field_lines(name: str, value: Any, indent: str = "") -> list[str]:
    """A field of a case; tables set in below their name."""
    if value in (None, "", {}, []):
        return []
    if isinstance(value, dict):
        inner = [x for k, v in value.items() for x in field_lines(k.replace("_", " "), v, indent + "  ")]  # fmt: skip
        return [f"{indent}{name}:", *inner] if inner else []
    if isinstance(value, list):
        return [f"{indent}{name}: " + "; ".join(short(item) for item in value)]
    return [f"{indent}{name}: {short(value)}"]


def entry(finding: dict) -> str:
    """One finding on one line; what is kept for the machine is told by its kind alone."""
    body = finding["body"]
    words = body.get("words") or body.get("why") or body.get("sentence") or body.get("note") or ""
    if finding["kind"] == "signature":
        words = signature_words(body)
    elif finding["kind"] == "hand_back":
        words = f"{body.get('item', '')} {'done' if body.get('done', True) else 'taken back'}"
    elif finding["kind"] == "follow_up":
        words = f"{short(body.get('hours'))} h, kick-outs {body.get('kick_outs')} {words}".strip()
    elif finding["kind"] == "criterion":
        words = f"{body.get('rule', '')}, {short(body.get('required_h'))} h of quiet asked for"
    who = f" {finding['author']}:" if finding["author"] else ""
    kind = finding["kind"].replace("_", " ")
    return f"{moment(finding['at_utc'])}{who} {kind}{': ' + words if words else ''}"


def drive_table(drives: list[dict], indent: str = "") -> list[str]:
    rows = [
        (
            short_id(x["id"]), moment(x["started"]), x["kind"],
            round(60 * x["exposure_h"], 1) if "exposure_h" in x else None,
            x.get("kick_outs"), x["how"] or "not ended",
        )
        for x in drives
    ]  # fmt: skip
    return table(("id", "begun (UTC)", "what", "min that count", "kick-outs", "end"), rows, indent)


def note(d: dict) -> list[str]:
    return [f"Written down in case {short_id(d['case'])} as {d['kind'].replace('_', '-')}."]


def put(d: dict) -> list[str]:
    lines = [x for k, v in d["set"].items() for x in field_lines(k.replace("_", " "), v, "  ")]
    gone = [k for k, v in flat(d["set"]).items() if v is None]
    lines += [f"  taken back: {', '.join(gone)}"] if gone else []
    return [f"Case {short_id(d['case'])} now says:", *lines]


def flat(fields: dict, before: str = "") -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, value in fields.items():
        name = f"{before}{key}"
        out.update(flat(value, name + ".") if isinstance(value, dict) else {name: value})
    return out


def attach(d: dict) -> list[str]:
    return [f"Recording {short_id(d['drive'])} is filed under case {short_id(d['case'])}."]


def enclose(d: dict) -> list[str]:
    names = [f"{x['name']} ({x['size'] / 1000:.1f} kB)" for x in d["enclosed"]]
    return listed(f"Kept with case {short_id(d['case'])}:", names)


def signature_words(s: dict) -> str:
    low, high = s["length_ms"]
    return (
        f"{s['of_them']} of {s['glitches']} glitches towards {s['towards']}, {short(float(low))} to "
        f"{short(float(high))} ms long (median {short(s['median_ms'])}), kick-outs after "
        f"{s['followed_by_kick_out']}, the first {short(s['first_minute'])} min into a recording"
    )


def signature(d: dict) -> list[str]:
    return [f"Case {short_id(d['case'])} can be found by: {signature_words(d['signature'])}."]


def similar(d: dict) -> list[str]:
    wanted = [f"{k.replace('_', ' ')} {span(v)}" for k, v in d["criteria"].items() if v]
    lines = [f"Compared by: {'; '.join(wanted) or 'nothing, so with every case'}."]
    sentence = d["sentence"]
    lines.append(sentence[:1].upper() + sentence[1:].rstrip(".") + ".")
    return lines + (["", *hits(d["cases"])] if d["cases"] else [])


def span(value: Any) -> str:
    return f"{short(value[0])} to {short(value[1])}" if isinstance(value, list) else str(value)


def ticks(rows: list[dict]) -> list[str]:
    lines = []
    for row in rows:
        who = f", {row['author']}" if row["author"] else ""
        done = f" ({day(row['at_utc'])}{who})" if row["done"] else ""
        note = f": {row['note']}" if row["note"] else ""
        lines.append(f"[{'x' if row['done'] else ' '}] {row['item']}: {row['words']}{done}{note}")
    return lines


def report(d: dict) -> list[str]:
    return [Whole(f"Page for the {d['for']}: {d['report']}"), Whole(f"Its numbers:  {d['data']}")]


def export(d: dict) -> list[str]:
    return [Whole(f"Exported to {d['out']}")]


def import_(d: dict) -> list[str]:
    cases = ", ".join(short_id(x) for x in d["cases"])
    if not d["new_rows"]:
        return [f"Case {cases} was here already; nothing new came."]
    return [f"Case {cases} came in."]


def check(d: dict) -> list[str]:
    lines = [Whole(f"Casebook: {d['casebook']}")] if "casebook" in d else []
    lines += checks(d["checks"])
    return lines + ([f"{d['remedy'][:1].upper()}{d['remedy'][1:]}."] if d["remedy"] else [])


def checks(rows: list[dict]) -> list[str]:
    return [f"{'good   ' if c['passed'] else 'LOOK AT'} {c['name']}: {c['detail']}" for c in rows]


def rescue(d: dict) -> list[str]:
    lines = [c for c in d["checks"] if not c["detail"].startswith("0 saved, 0 lost")]
    end = "Nothing was lost." if d["ok"] else "What is marked was lost; the rest is saved."
    return [*checks(lines), end, Whole(f"New casebook: {d['out']}")]


def merge(d: dict) -> list[str]:
    if not d["new_rows"]:
        return ["Everything in it was here already."]
    return [
        f"{count(len(d['cases']), 'case').capitalize()} came in or grew, "
        f"{count(d['unfiled'], 'recording')} without a case."
    ]


def backup(d: dict) -> list[str]:
    return [Whole(f"Copied to {d['backup']}")]


FORMATTERS = {
    "cases:new": new, "cases:listing": listing, "cases:show": show, "cases:note": note,
    "cases:attach": attach, "case_fields:put": put, "case_pages:enclose": enclose,
    "case_pages:report": report, "case_pages:export": export, "case_pages:import_": import_,
    "likeness:find": find, "likeness:signature": signature, "likeness:similar": similar,
    "casebook_care:check": check, "casebook_care:rescue": rescue,
    "casebook_care:merge": merge, "casebook_care:backup": backup,
}  # fmt: skip
"""Job, without the name of its package, to what puts its result into words."""
