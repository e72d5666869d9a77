"""One drive as a page shows it: releases, glitches, stretches, states, temperature."""

from __future__ import annotations

from locum.casebook.records import Drive as StoredDrive
from locum.casebook.store import Store
from locum.report import data as page

TEMPERATURES = 400
"""Points of temperature a figure gets; more would not be seen."""


def drive_facts(store: Store, drive: StoredDrive, curve) -> page.DriveFacts | None:
    reviews = store.reviews(drive.id)
    if not reviews:
        return None
    result = reviews[-1].result
    exposure = result["exposure"]
    facts = page.DriveFacts(
        id=drive.id, kind=drive.kind, started_utc=drive.started_utc,
        seconds=exposure["recorded_s"], exposure_h=exposure["exposed_s"] / 3600,
        unwatched_h=exposure["unwatched_s"] / 3600, review_version=reviews[-1].version,
        note=drive.settings.get("note", ""),
    )  # fmt: skip
    facts.releases = [
        page.ReleaseFacts(
            t_s=r["t_ms"] / 1000, what=f"{r['from_state']} let go", cause=r["cause"],
            cause_words=r["cause_detail"],
            regained_s=None if r["regained_ms"] is None else r["regained_ms"] / 1000,
            glitch_s=None if r["linked_glitch"] is None else r["linked_glitch"] / 1000,
        )
        for r in result["releases"] if not r["repeat"]
    ]  # fmt: skip
    facts.kick_outs = sum(r.cause == "none" for r in facts.releases)
    facts.glitches = _glitches(result)
    facts.stretches = _stretches(drive, result, facts.seconds)
    facts.states = _states(result, facts.seconds)
    facts.marks_s = [t / 1000 for t, kind in result["marks"] if kind in ("button", "key")]
    facts.lost_ms = sum(gap.until_ms - gap.t_ms for gap in drive.gaps)
    _temperature(facts, result, curve)
    return facts


def _glitches(result: dict) -> list[page.GlitchFacts]:
    made = [
        page.GlitchFacts(g["t_ms"] / 1000, g["length_ms"], g["towards"], g["channel"], g["ours"],
                         None, g["place"])  # fmt: skip
        for g in result["glitches"] if not g["ours"]
    ]  # fmt: skip
    made += [
        page.GlitchFacts(
            i["t_ms"] / 1000,
            i["length_ms"],
            "hot" if i["kind"] == "short" else "cold",
            "node",
            True,
            i["answered_ms"] is not None,
            "injected",
        )  # fmt: skip
        for i in result["injections"]
    ]
    return sorted(made, key=lambda g: g.t_s)


def _stretches(drive: StoredDrive, result: dict, seconds: float) -> list[page.StretchFacts]:
    made = []
    for s in drive.stretches:
        start, end = s.start_ms / 1000, seconds if s.end_ms is None else s.end_ms / 1000
        counted = sum(
            max(0.0, min(b / 1000, end) - max(a / 1000, start)) for a, b in result["exposed"]
        )
        made.append(page.StretchFacts(start, end, s.connected, s.foot, s.felt, counted))
    return made


def _states(result: dict, seconds: float) -> list[page.StateSpan]:
    rows = result["states"]
    ends = [t / 1000 for t, _ in rows[1:]] + [seconds]
    return [page.StateSpan(t / 1000, end, name) for (t, name), end in zip(rows, ends, strict=True)]


def _temperature(facts: page.DriveFacts, result: dict, curve) -> None:
    track = result.get("temperature") or {"t_ms": [], "milliohm": []}
    every = max(1, len(track["t_ms"]) // TEMPERATURES)
    for t_ms, milliohm in list(zip(track["t_ms"], track["milliohm"], strict=True))[::every]:
        facts.temperature_s.append(t_ms / 1000)
        low, high = curve.domain_ohm if curve else (0.0, 0.0)
        inside = curve is not None and low < milliohm / 1000 < high
        facts.temperature_c.append(
            float(curve.temperature_c(milliohm / 1000)) if inside and curve else None
        )
