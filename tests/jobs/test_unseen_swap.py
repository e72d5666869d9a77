"""The unseen swap test: sealed, driven with nothing that tells, revealed, and what it says."""

from __future__ import annotations

import hashlib
import json
import queue
from itertools import pairwise

import numpy as np
import pytest

from locum.casebook.store import Store
from locum.jobs import swap_tally, swapping
from locum.jobs.answers import newest
from locum.jobs.evidence import case_evidence
from locum.jobs.swap_draw import draw
from locum.jobs.swap_road import DrivenStretch
from locum.review.findings import Findings, Glitch, Release
from locum.verdict import exact, swap

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")
ROAD = (*VAN, "--board", "virtual")


@pytest.fixture
def case(locum, book):
    return locum("case", "new", "Kicks out", *VAN, "--casebook", book).json["id"]


def review_of(book: str, drive: str) -> dict:
    with Store.open(book) as store:
        return store.reviews(drive)[-1].result


def test_swap_is_sealed_before_driven_unseen_and_revealed(locum, book, case):
    ran = locum("swap", "--stretches", "4", "--minutes", "5", "--case", case, "--board", "virtual",
                "--casebook", book)  # fmt: skip
    assert ran.code == 0, ran.talk
    rows = ran.json["stretches"]
    assert sorted((r["connected"], r["foot"]) for r in rows) == [
        ("follow", "normal"), ("follow", "still"), ("real", "normal"), ("real", "still")]  # fmt: skip
    told = ran.talk.split("Note:")[0].lower()
    assert not any(word in told for word in ("follow", "real", "stand-in", "sensor", "connected"))
    with Store.open(book) as store:
        drive = store.drive(ran.json["drive"])
        kinds = [f.kind for f in store.findings(case)]
        sealed, revealed = (store.findings(case, f"draw_{x}")[0] for x in ("sealed", "revealed"))
    assert kinds.index("draw_sealed") < kinds.index("draw_revealed")
    assert sealed.body["seal"] == drive.settings["options"]["seal"]
    given = {i["t_ms"] / 1000 for i in review_of(book, ran.json["drive"])["injections"]}
    for row in rows:
        inside = sum(row["start_s"] <= t < row["end_s"] for t in given)
        assert inside == row["given"] <= (2 if row["connected"] == "follow" else 0)
    assert ran.json["given"][1] == sum(r["given"] for r in rows) > 0
    assert "P0118" in ran.json["codes_possible"]
    drawn = json.dumps([int(revealed.body["seed"]), revealed.body["stretches"]])
    assert hashlib.sha256(drawn.encode()).hexdigest()[:16] == sealed.body["seal"]
    changes = [t / 1000 for t, _ in review_of(book, ran.json["drive"])["sources"]]
    begins = [0.0, *(r["end_s"] for r in rows)]
    for begin, row in zip(begins, rows, strict=False):
        burst = [t for t in changes if begin - 1 < t < row["start_s"] + 1]
        assert len(burst) >= 8, "too few clicks: they can be counted"
        quick = [b - a for a, b in pairwise(burst[-8:])]
        assert max(quick) < 0.2, "clicks far enough apart to be counted"
        inside = [t for t in changes if row["start_s"] + 1 < t < row["end_s"] - 1]
        assert not inside, "a move inside a stretch tells"
    with Store.open(book) as store:
        driven = case_evidence(store, case).drives[-1]
    assert driven.kind == "swap"
    for row in rows:
        middle = (row["start_s"] + row["end_s"]) / 2
        one = next(s for s in driven.stretches if s.start_s <= middle < s.end_s)
        assert (one.connected, one.foot) == (row["connected"], row["foot"])


@pytest.mark.parametrize("seed", [2, 3])  # 3: the trip comes while a glitch waits to be given
def test_a_trip_unblinds_its_stretch_and_the_test_goes_on(locum, book, monkeypatch, seed):
    monkeypatch.setattr(swapping, "LONGEST_STANDING_S", 100)
    monkeypatch.setattr(swapping.secrets, "randbits", lambda bits: seed)
    ran = locum("swap", "--stretches", "4", "--minutes", "3", *ROAD, "--casebook", book)
    rows = ran.json["stretches"]
    assert len(rows) == 4
    assert {r["unblinded"] for r in rows if r["connected"] == "follow"} == {True}
    assert {r["unblinded"] for r in rows if r["connected"] == "real"} == {False}
    assert ran.json["masked"] == [0, 0]


def test_the_number_of_stretches_is_planned_by_the_rate(locum):
    made = draw(None, 10.0, 6.0, 0.9, 5, replay=0)
    plan, chance = made.plan, made.settles
    assert len(plan.stretches) % 4 == 0
    assert (chance or 0) >= 0.9
    fewer = len(plan.stretches) // 2 // 4 * 4
    less = draw(fewer, 10.0, 6.0, 0.9, 5, replay=0).settles
    assert 0 < (less or 0) < 0.9
    more = draw(fewer, 10.0, 6.0, 0.9, 5, replay=2).settles
    assert (more or 0) > (less or 0), "what is given must make the test stronger"
    assert plan.seal != draw(None, 10.0, 6.0, 0.9, 6, replay=0).plan.seal
    assert locum("swap").json["refusals"][0]["code"] == "how_many"
    assert locum("swap", "--stretches", "6").json["refusals"][0]["code"] == "stretches"


def test_the_tally_counts_glitches_long_enough_while_the_state_was_held():
    def glitch(t_s, ms):
        return Glitch(round(1000 * t_s), ms, "cold", 1e6, 100.0, "node", "circuit")

    found = Findings(
        states=[(0, "top"), (50_000, "low"), (60_000, "top")],
        glitches=[glitch(10, 300), glitch(10.9, 300), glitch(20, 30), glitch(30, 300),
                  glitch(40, 300), glitch(55, 300)],
        releases=[Release(10_700, "top", "low"), Release(40_500, "top", "low", cause="driver")],
    )  # fmt: skip
    row = DrivenStretch(1, "real", "normal", 0.0, 100.0)
    swap_tally.count(row, found, {"top"}, least_s=0.1, delay_s=1.0)
    assert (row.glitches, row.followed) == (2, 1)
    assert exact.fisher(1, 2, 0, 2).p_value == pytest.approx(0.5)


def test_what_the_module_saw_is_held_against_what_was_kept_from_it():
    """Fisher by hand: 3 of 3 and 4 of 4 given against 0 of 3: 1 / C(10, 3) = 0.00833."""
    made = swap_tally.judged((3, 3), (4, 4), (0, 3), 0.005)
    assert made.p_value == pytest.approx(1 / 120)
    assert made.p_unmasked == pytest.approx(1 / 20)
    assert not made.settled
    assert swap_tally.judged((3, 3), (6, 6), (0, 3), 0.005).settled
    assert swap_tally.judged((3, 3), (4, 4), (0, 0), 0.005).p_value is None


def test_given_glitches_unlike_the_sensors_own_settle_nothing():
    """All given are answered, the sensor's own hardly ever: an open is not what it does."""
    made = swap_tally.judged((0, 6), (8, 8), (0, 9), 0.005)
    assert made.p_value < 0.02
    assert not made.settled
    assert "not alike" in made.sentence


def test_what_was_felt_is_asked_after_each_stretch_and_kept(locum, book, case, monkeypatch):
    """A press of the mark says yes by itself; otherwise what is typed; without either nothing."""
    monkeypatch.setattr(swapping, "typed_answers", lambda: lambda: False)
    ran = locum("swap", "--stretches", "4", "--minutes", "5", "--replay", "0", "--case", case,
                "--board", "virtual", "--casebook", book)  # fmt: skip
    rows = ran.json["stretches"]
    marks = [
        t / 1000 for t, kind in review_of(book, ran.json["drive"])["marks"] if kind == "button"
    ]
    with Store.open(book) as store:
        kept = {s.number: s.felt for s in store.drive(ran.json["drive"]).stretches}
    for row in rows:
        pressed = any(row["start_s"] <= t < row["end_s"] for t in marks)
        asked = row is not rows[-1]
        assert row["felt"] == (True if pressed else False if asked else None)
        assert kept[row["stretch"]] == row["felt"]
    assert ran.json["given"] == [0, 0]


def test_answers_are_the_last_yes_or_no_of_what_was_typed():
    lines: queue.SimpleQueue[str] = queue.SimpleQueue()
    assert newest(lines) is None
    for word in ("what\n", "y\n", "hm\n", " No \n", "\n"):
        lines.put(word)
    assert newest(lines) is False


def test_given_glitches_alone_settle_nothing():
    """That the module answers what it is given does not say that the fault is a glitch of the sensor."""
    for own in ((0, 0), (0, 1)):
        made = swap_tally.judged(own, (9, 9), (0, 7), 0.005)
        assert made.p_value is not None
        assert made.p_value <= 0.005
        assert not made.settled
        assert "own glitches yet" in made.sentence
    assert swap_tally.judged((1, 1), (9, 9), (0, 7), 0.005).settled


def test_the_stated_chance_is_what_simulated_drives_settle():
    """Real and masked glitches by chance, each unmasked one followed; two given in each stretch."""
    rng = np.random.default_rng(31)
    for per_h, hours, given in ((3.0, 1.0, 0), (3.0, 1.0, 12), (8.0, 1.5, 6)):
        stated = swap.settling_chance(per_h, hours, 0.005, given)
        settled = 0
        for _ in range(4000):
            real, masked = rng.poisson(0.5 * per_h * hours, 2).tolist()
            made = swap_tally.judged((real, real), (given, given), (0, masked), 0.005)
            settled += made.settled
        assert settled / 4000 == pytest.approx(stated, abs=0.025)
