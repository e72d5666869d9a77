"""One drive as a page shows it: releases, glitches, stretches, states, temperature."""

from __future__ import annotations

import hashlib
import math

from locum.casebook.records import Drive as StoredDrive
from locum.casebook.store import Store
from locum.report import data as page
from locum.sheets.vehicle import read_vehicle
from locum.verdict.tally import MERGE_S

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
        real_h=exposure["exposed_real_s"] / 3600, stand_in_h=exposure["exposed_stand_in_s"] / 3600,
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
    _say_which_count(facts.releases, result["exposed"])
    facts.glitches = _glitches(drive, result)
    facts.stretches = _stretches(drive, result, facts.seconds)
    facts.states = _states(result, facts.seconds)
    facts.data_sha256 = _record_sha256(store, drive.id)
    facts.lost_ms = sum(gap.until_ms - gap.t_ms for gap in drive.gaps)
    _temperature(facts, result, curve)
    return facts


def _say_which_count(releases: list[page.ReleaseFacts], exposed: list) -> None:
    """Of each kick-out whether rates and tests count it, as the verdict does."""
    last_s = -math.inf
    for release in (r for r in releases if r.cause == "none"):
        if not any(a <= release.t_s * 1000 < b for a, b in exposed):
            release.counted = "outside the time that counts"
            continue
        fresh, last_s = release.t_s - last_s > MERGE_S, release.t_s
        release.counted = (
            "counts" if fresh else f"within {MERGE_S:g} s of the one before: one burst"
        )


def _record_sha256(store: Store, drive_id: str) -> str:
    """SHA-256 of the raw blocks one after another, as an export's ``record.bin`` holds them."""
    digest = hashlib.sha256()
    for block in store.blocks(drive_id):
        digest.update(block)
    return digest.hexdigest()


ANSWER_MS = 2000
"""Longest time from a glitch's end to the module's answer, where it was not measured. [ms]"""


def _answered(glitch: dict, result: dict, held: frozenset[str]) -> bool | None:
    """Whether a kick-out followed a real glitch; None where it could not be told.

    Followed: a kick-out is linked to it. Not followed: the state was held through the glitch and
    its look-back. Otherwise the module had nothing to let go of, or something else made it let go.
    """
    begin, end = glitch["t_ms"], glitch["t_ms"] + glitch["length_ms"] + ANSWER_MS
    for release in result["releases"]:
        if release["linked_glitch"] == begin and not release["repeat"]:
            return True if release["cause"] == "none" else None
    before = [name for t_ms, name in result["states"] if t_ms <= begin and ": " not in name]
    during = [name for t_ms, name in result["states"] if begin < t_ms <= end and ": " not in name]
    stayed = bool(before) and before[-1] in held and all(name in held for name in during)
    return False if stayed else None


def _held_states(drive: StoredDrive, result: dict) -> frozenset[str]:
    """States whose loss is a release: of the vehicle sheet, or as review named them."""
    sheet = next((s for s in drive.sheets if s.role == "vehicle"), None)
    if sheet is not None:
        states = read_vehicle(sheet.text, sheet.name).states
        return frozenset(state.name for state in states if state.top)
    return frozenset(release["from_state"] for release in result["releases"])


def _glitches(drive: StoredDrive, result: dict) -> list[page.GlitchFacts]:
    held = _held_states(drive, result)
    made = [
        page.GlitchFacts(g["t_ms"] / 1000, g["length_ms"], g["towards"], g["channel"], g["ours"],
                         _answered(g, result, held), g["place"])  # fmt: skip
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
    """The sensor's temperature, thinned. Seconds with a glitch of it are left out: what the line
    read then was no temperature."""
    track = result.get("temperature") or {"t_ms": [], "milliohm": []}
    rows = list(zip(track["t_ms"], track["milliohm"], strict=True))
    spans = [(g["t_ms"] - 1000, g["t_ms"] + g["length_ms"] + 1000)
             for g in result["glitches"] if not g["ours"]]  # fmt: skip
    low, high = curve.domain_ohm if curve else (0.0, 0.0)
    for t_ms, milliohm in rows[:: max(1, len(rows) // TEMPERATURES)]:
        ohm = milliohm / 1000
        inside = curve is not None and low < ohm < high
        glitch = any(begin <= t_ms <= end for begin, end in spans)
        facts.temperature_s.append(t_ms / 1000)
        facts.temperature_c.append(
            float(curve.temperature_c(ohm)) if curve and inside and not glitch else None
        )
