"""The page's numbers agree with the verdict's, and follow-up calls reach both."""

from __future__ import annotations

import html
import re
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from scipy.stats import beta, chi2

from locum.casebook.store import Store
from locum.jobs.case_report import case_page
from locum.report import render_case
from locum.review.findings import Exposure, Findings, Glitch, Release
from locum.sheets.lookup import find_sheet

HOUR_MS = 3_600_000
GOLDEN = Path(__file__).parent / "golden"
TOP = "top gear, clutch locked"


def review_of(hours: float, kick_at_ms=(), glitches=(), unwatched_s=0.0) -> dict:
    """A stored review: kick-outs at these times, each linked to a glitch 500 ms before."""
    found = Findings(
        releases=[Release(t, TOP, "top gear", t + 4000, "none", "", t - 500) for t in kick_at_ms],
        glitches=[Glitch(t - 500, 300.0, "cold", 1e9, 50.0, "node", "circuit") for t in kick_at_ms]
        + list(glitches),
        states=[(0, TOP), *((t, s) for k in kick_at_ms for t, s in ((k, "top gear"), (k + 4000, TOP)))],
        exposed=[(0, int(hours * HOUR_MS))], sources=[(0, "real")],
        exposure=Exposure(hours * 3600, hours * 3600, hours * 3600, 0.0, unwatched_s),
    )  # fmt: skip
    body = found.as_dict()
    body["temperature"] = {"t_ms": [], "milliohm": []}
    return body


@pytest.fixture
def store():
    with stored() as opened:
        yield opened


@contextmanager
def stored():
    """A casebook whose clock moves by a minute at each look."""
    time = [datetime(2026, 3, 2, 7, 0, tzinfo=UTC)]

    def now():
        time[0] += timedelta(minutes=1)
        return time[0]

    with Store.open(":memory:", now=now) as opened:
        yield opened


@pytest.fixture
def repaired(store):
    return repaired_case(store)


def repaired_case(store) -> str:
    """Six kick-outs in 2 h, a rule stamped, a repair, and 0.5 h quiet of 1.295 h asked for."""
    case = store.new_case({"title": "Van", "rule": {"minutes_after_start": 10}})
    sheet = find_sheet("vehicle", "parcel_van")
    sheets = {"vehicle": (sheet.name, sheet.text)}
    store.attach_sheet(case, "vehicle", sheet.name, sheet.text)
    at = [600_000 * n for n in range(1, 7)]
    held = Glitch(7_000_000, 30.0, "cold", 1e9, 50.0, "node", "circuit")
    ours = Glitch(7_100_000, 30.0, "cold", 1e9, 50.0, "node", "circuit", ours=True)
    for kind, result, settings in (
        ("listen", review_of(2.0, at, (held, ours), unwatched_s=600.0), {}),
        ("quiet", review_of(0.5), {"repaired": True}),
    ):
        if kind == "quiet":
            store.add_finding(case, "criterion", {"rule": "exact time", "events": 6, "hours": 2.0,
                              "confidence": 0.95, "required_h": 1.295})  # fmt: skip
            store.add_finding(case, "found", {"words": "green terminal", "cause": "corrosion"})
            store.add_finding(case, "repair", {"words": "terminal replaced"})
        drive = store.begin_drive(kind, case, {"serial": "7"}, sheets, settings)
        store.begin_stretch(drive, 0, "real")
        store.end_drive(drive, "done", int(result["exposure"]["recorded_s"] * 1000))
        store.add_review(drive, "test", result)
    return case


def cured(page):
    return next(step for step in page.verdict.steps if step.name == "cured")


def test_what_was_found_and_what_was_done_stay_apart(store, repaired):
    page = case_page(store, repaired)
    assert page.found is not None
    assert (page.found.words, page.found.done) == ("green terminal.", "terminal replaced.")


def test_hours_are_never_printed_as_a_chance(store, repaired):
    tests = {t.says.partition(":")[0]: t for s in case_page(store, repaired).verdict.steps for t in s.tests}  # fmt: skip
    assert tests["quiet_hours_needed"].p_value is None
    assert tests["quiet_hours_needed"].says.endswith(" h")
    assert 0 <= tests["quiet_after_repair"].p_value <= 1


def test_the_stamped_rule_is_shown_as_it_was_stamped(store, repaired):
    quiet = case_page(store, repaired).quiet
    assert quiet is not None
    assert quiet.required_h == 1.295
    assert quiet.rule == "exact time: 6 in 2.00 h before, 95 %"
    assert quiet.met is False


def test_a_rule_chosen_after_the_repair_proves_nothing(store, repaired):
    case = store.new_case({"title": "late"})
    store.add_finding(case, "repair", {"words": "done"})
    store.add_finding(case, "criterion", {"rule": "exact time", "required_h": 0.1})
    drive = store.begin_drive("listen", case, {}, {s.role: (s.name, s.text) for s in store.sheets(repaired)})  # fmt: skip
    store.begin_stretch(drive, 0, "real")
    store.add_review(drive, "test", review_of(2.0, [600_000]))
    from locum.jobs.case_numbers import quiet_facts
    from locum.jobs.evidence import case_evidence

    evidence = case_evidence(store, repaired)
    late = quiet_facts(evidence, store, case)
    assert late is not None
    assert late.required_h is None
    assert late.met is None
    assert "after the repair" in late.rule


@pytest.mark.parametrize(("felt", "met"), [(0, True), (2, False)])
def test_a_follow_up_call_counts_on_the_page_and_in_the_verdict(store, repaired, felt, met):
    assert not cured(case_page(store, repaired)).reached
    store.add_follow_up(repaired, 3.0, felt)
    page = case_page(store, repaired)
    assert page.quiet is not None
    assert (page.quiet.driven_h, page.quiet.customer_h) == (pytest.approx(3.5), 3.0)
    assert (page.quiet.kick_outs, page.quiet.met) == (felt, met)
    assert f"kick-outs: {felt} in 3.50 h after the repair" in cured(page).observed
    assert cured(page).reached is met
    assert page.follow_ups[0].hours == 3.0


def test_a_call_that_does_not_count_changes_no_number(store, repaired):
    before = case_page(store, repaired)
    store.add_follow_up(repaired, 50.0, 0, counts=False)
    after = case_page(store, repaired)
    assert asdict(after)["quiet"] == asdict(before)["quiet"]
    assert [(r.events, r.hours) for r in after.rates] == [(r.events, r.hours) for r in before.rates]
    assert after.follow_ups[0].counts is False


def test_a_glitch_is_answered_only_where_it_can_be_told(store, repaired):
    listen = case_page(store, repaired).drives[0]
    told = {round(g.t_s): g.answered for g in listen.glitches}
    assert told[600] is True
    assert told[7000] is False, "the state was held through it"
    assert 7100 not in told, "our own doing is none of the sensor's glitches"


def test_unwatched_time_and_a_rule_that_was_not_applied_are_told_first(store, repaired):
    page = case_page(store, repaired)
    assert any("10 min met the rule but were not watched" in words for words in page.remarks)
    assert "sensor above 60 °C" in page.complaint.rule, "the sheet's rule is what was applied"
    store.change_case(repaired, {"rule": {"minutes_after_start": 25}})
    assert any("25 min after start" in words for words in case_page(store, repaired).remarks)


def test_the_numbers_of_a_page_can_be_computed_again_from_what_stands_beside_them(store, repaired):
    """By scipy's distributions alone: Garwood 1936, Clopper and Pearson 1934, a quiet time without
    an event (all standard); nothing of ours is used but the page."""
    page = case_page(store, repaired)
    tail = (1 - page.confidence) / 2
    assert page.rates
    for rate in page.rates:
        low = chi2.ppf(tail, 2 * rate.events) / 2 / rate.hours if rate.events else 0.0
        high = chi2.ppf(1 - tail, 2 * rate.events + 2) / 2 / rate.hours
        assert rate.low_per_h == pytest.approx(low)
        assert rate.high_per_h == pytest.approx(high)
    for count in page.counts:
        k, n = count.answered, count.offered
        assert count.low == pytest.approx(beta.ppf(tail, k, n - k + 1) if k else 0.0)
        assert count.high == pytest.approx(beta.ppf(1 - tail, k + 1, n - k) if k < n else 1.0)
    quiet = page.quiet
    assert quiet is not None
    assert quiet.upper_per_h == pytest.approx(chi2.ppf(page.confidence, 2) / 2 / quiet.driven_h)
    assert sum(r.events for r in page.rates) == sum(
        release.cause == "none" for drive in page.drives for release in drive.releases
    )


def normalised(page: str) -> str:
    """Text of a page a line an element, without what differs from day to day and pictures."""
    page = re.sub(r"<(svg|style|script)\b.*?</\1>", "", page, flags=re.DOTALL)
    lines = [" ".join(html.unescape(x).split()) for x in re.split(r"<[^>]*>", page)]
    text = "\n".join(line for line in lines if line)
    return re.sub(
        r"\b[0-9A-HJKMNP-TV-Z]{26}\b|\d{4}-\d\d-\d\d[T ]?[\d:.Z]*|[0-9a-f]{12,}", "#", text
    )


@pytest.mark.parametrize("style", ["workshop", "customer"])
def test_page_of_a_stored_case_looks_as_it_did(store, repaired, style):
    """Run ``python tests/jobs/write_stored_pages.py`` to write the pages anew; look at what changed."""
    page = render_case(case_page(store, repaired).as_dict(), style=style)
    assert normalised(page) == (GOLDEN / f"stored_{style}.txt").read_text("utf-8").rstrip("\n")
