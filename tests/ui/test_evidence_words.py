"""Odds and exact tests as a person reads them."""

from __future__ import annotations

import re

import pytest

from locum.jobs.desk_facts import Setup
from locum.jobs.evidence_view import EvidenceView, ExactRow, MomentRow, StepRow
from locum.jobs.next_drive import KINDS, begun
from locum.ui import words
from locum.ui.evidence_text import exact_text, moments_text, next_text, steps_text, suspects_text


@pytest.mark.parametrize(
    ("p", "said"),
    [(1 / 240, "1 in 240 by luck"), (0.05, "1 in 20 by luck"), (1 / 817190, "1 in 820,000 by luck"),
     (1e-20, "less than 1 in a billion by luck"), (0.3, "1 in 3 by luck"), (1.0, "nothing to compare yet"),
     (0.7, "luck alone does it every other time"), (None, "no test yet"), (float("nan"), "no test yet")],
)  # fmt: skip
def test_odds_in_plain_words(p, said):
    assert words.odds(p) == said


def view(**changes) -> EvidenceView:
    fisher = ExactRow("exact.fisher", (("hits_a", 9.0), ("real_h", 2.5)), 1.25e-6, "one-sided")
    steps = (StepRow("possible", True, "the manual names it", "", None, ()),
             StepRow("sufficient", False, "0 of 2", "four glitches", 1.25e-6, (fisher,)))  # fmt: skip
    rows = (MomentRow("listen", 75.0, True, "90 ms towards cold", False, 0.4),
            MomentRow("follow", 80.0, False, "91 ms towards cold", True),
            MomentRow("listen", 90.0, True, "", False))  # fmt: skip
    given = {"case_id": "c", "title": "Van", "sentence": "Undecided.", "proof": "possible",
             "p_value": None, "steps": steps, "moments": rows,
             "suspects": (("sensor", "possible", "a; b"), ("harness", "cleared", "")),
             "next_words": "Drive 2 h.", "next_why": "more", "next_kind": "listen",
             "next_chance": 0.25}  # fmt: skip
    return EvidenceView(**{**given, **changes})


def test_a_step_says_its_odds_and_what_is_missing():
    text = steps_text(view())
    assert "sufficient  not yet" in text
    assert "1 in 800,000 by luck" in text
    assert "missing: four glitches" in text


def test_the_exact_test_stands_behind_with_all_it_takes_to_compute_it_again():
    text = exact_text(view())
    assert "Fisher's exact test: 1.25e-06; hits a 9, real h 2.5; one-sided" in text


def test_kick_outs_and_glitches_stand_beside_each_other():
    linked, masked, alone = (
        next(line for line in moments_text(view()).split("\n") if clock in line)
        for clock in ("01:15", "01:20", "01:30")
    )
    assert re.search(r"KICK-OUT +0\.4 s after +90 ms towards cold", linked)
    assert re.search(r"kept from it +91 ms towards cold", masked)
    assert "KICK-OUT" not in masked
    assert re.search(r"KICK-OUT +none before it$", alone)
    assert "2 kick-outs; glitches: 1 seen by the module, 1 not" in moments_text(view())


def test_suspects_without_a_word_take_one_line():
    assert suspects_text(view()).split("\n") == [
        "possible       sensor", f"{'':17}a", f"{'':17}b", "cleared        harness"
    ]  # fmt: skip


def test_the_key_is_named_only_where_a_drive_can_be_started():
    assert next_text(view()).startswith("n starts the next drive: Drive 2 h.")
    assert "settles it: 25%" in next_text(view())
    assert next_text(view(next_kind="repair")).startswith("Next: ")


@pytest.mark.parametrize("kind", ["listen outputs", "listen", "swap", "provoke", "quiet", "bench",
                                  "repair", "stop"])  # fmt: skip
def test_the_next_drive_begins_a_recording_of_its_kind_in_the_case(kind):
    setup, act, _ = begun(view(next_kind=kind), Setup())
    if kind not in KINDS:
        assert setup is None
        return
    assert setup.case == "c"
    assert setup.kind in ("listen", "swap", "provoke", "quiet")
    assert (act is not None) == (kind in ("swap", "provoke"))
