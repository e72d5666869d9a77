"""Tests made on the road by the command line, on the virtual van whose truth is known."""

from __future__ import annotations

import csv
import math

import numpy as np
import pytest

from locum.casebook.store import Store
from locum.jobs.evidence import case_evidence
from locum.jobs.stored_record import chunks_of
from locum.physics.curve import Curve
from locum.review.chunk import MOVE_OPEN, MOVE_THROUGH
from locum.sheets.lookup import find_sheet
from locum.sheets.sensor import read_sensor
from locum.sheets.vehicle import read_vehicle
from recorded_book import copy_of_recorded

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")
ROAD = (*VAN, "--board", "virtual")


def van_curve() -> Curve:
    return read_sensor(find_sheet("sensor", "parcel_van_coolant").text, "van").curve


@pytest.fixture
def case(locum, book):
    """A case with the van's sheets and the customer's account: 3 kick-outs in 10 h."""
    ran = locum("case", "new", "Kicks out", *VAN, "--casebook", book)
    with Store.open(book) as store:
        store.change_case(ran.json["id"], {"account": {"felt": 3, "exposed_h": 10.0}})
    return ran.json["id"]


# -- threshold -----------------------------------------------------------------------------------


def test_threshold_finds_the_modules_rule_with_the_instruments_own_uncertainty(locum, book, case):
    """The van's module refuses the clutch below 52 degC and allows it above 58 degC."""
    assert locum("calibrate", "--board", "virtual", "--casebook", book).code == 0
    ran = locum("threshold", "--from", "48", "--to", "62", "--resolution", "1", "--case", case,
                "--board", "virtual", "--casebook", book)  # fmt: skip
    assert ran.code == 0, ran.talk
    for way, truth in (("rising", 58.0), ("falling", 52.0)):
        found = ran.json[way]["bisected"]
        assert found["low_c"] <= truth <= found["high_c"]
        assert found["high_c"] - found["low_c"] < 2.0
        swept = ran.json[way]["swept"]
        assert swept["celsius"] == pytest.approx(truth, abs=0.8)
    assert ran.json["hysteresis_c"] == pytest.approx(6.0, abs=ran.json["hysteresis_u_c"])
    assert 0 < ran.json["instrument_u_c"] < 1
    with Store.open(book) as store:
        kept = store.findings(case, "threshold")[0].body
        assert kept["rising_c"] == ran.json["rising"]["bisected"]["celsius"]
        assert store.drive(ran.json["drive"]).how == "done"


def test_threshold_says_when_nothing_changes_and_what_it_needs(locum, book):
    flat = locum("threshold", "--from", "70", "--to", "75", *ROAD, "--casebook", book)
    assert (flat.code, flat.json["refusals"][0]["code"]) == (1, "no_change")
    blind = locum(
        "threshold", "--from", "48", "--to", "62", "--board", "virtual", "--casebook", book
    )
    assert blind.json["refusals"][0]["code"] == "no_states"
    narrow = locum("threshold", "--from", "50", "--to", "50.2", *ROAD, "--casebook", book)
    assert narrow.code == 2


# -- shortest ------------------------------------------------------------------------------------


def shortest_by_hand_s(celsius: float) -> float:
    """The shortest open for which the filtered voltage is beyond the comparator for 0.15 s.

    Filter 0.12 s; up at the voltage of 52 degC, down again at that of 58 degC (the module's sheet).
    """
    curve = van_curve()
    warm, up, down = (
        5.0 * r / (r + 1000.0) for r in (float(curve.resistance_ohm(c)) for c in (celsius, 52, 58))
    )
    cross_s = 0.12 * math.log((5 - warm) / (5 - up))
    for length_s in np.arange(cross_s, 1.0, 0.0005):
        top = 5 - (5 - warm) * math.exp(-length_s / 0.12)
        if length_s - cross_s + 0.12 * math.log((top - warm) / (down - warm)) >= 0.15:
            return float(length_s)
    raise AssertionError("not answered within a second")


def test_shortest_closes_on_what_filter_and_confirm_time_make_of_it(locum, book, case):
    ran = locum("shortest", "--longest", "500", "--case", case, "--board", "virtual", "--casebook", book)  # fmt: skip
    assert ran.code == 0, ran.talk
    low, high = ran.json["longest_unanswered_ms"], ran.json["shortest_answered_ms"]
    truth_ms = 1000 * shortest_by_hand_s(ran.json["true_c"])
    assert low * 0.95 <= truth_ms <= high * 1.05
    assert high <= 1.25 * low
    assert "P0118" in ran.json["codes_possible"]
    assert max(int(length) for length in ran.json["tried"]) <= 500
    with Store.open(book) as store:
        evidence = case_evidence(store, case)
        given = [i["length_ms"] for i in store.reviews(ran.json["drive"])[-1].result["injections"]]
    told = locum("case", "hand-back", case, "--casebook", book).json["codes_possible"]
    assert ("P0118" in told) == (max(given) >= 500)
    assert evidence.shortest_answered_s == high / 1000
    assert evidence.module_delay_s == tuple(ms / 1000 for ms in ran.json["delay_ms"])


def test_what_was_measured_of_the_answer_sets_the_look_back_of_later_reviews(locum, book, case):
    """A short glitch before a kick-out is no link once the module is known not to answer it."""
    options = ("--case", case, "--board", "virtual", "--casebook", book)
    heard = locum("listen", "--minutes", "40", *options).json
    with Store.open(book) as store:
        before = store.reviews(heard["drive"])[-1].result
        longest = max(g["length_ms"] for g in before["glitches"])
        body = {"shortest_answered_ms": int(longest) + 1, "delay_ms": [500, 700], "towards": "cold"}
        store.add_finding(case, "shortest", body, "test")
    again = locum("drive", "review", heard["drive"], "--casebook", book).json
    linked = [r["linked_glitch"] for r in before["releases"]]
    assert any(at is not None for at in linked)
    assert all(r["linked_glitch"] is None for r in again["releases"])
    assert [r["t_ms"] for r in again["releases"]] == [r["t_ms"] for r in before["releases"]]


# -- capture and learn ---------------------------------------------------------------------------


@pytest.fixture
def listened(book, tmp_path_factory):
    """An hour on the road, with glitches of the real sensor."""
    _, drive = copy_of_recorded(book, str(tmp_path_factory.getbasetemp()), minutes=60)
    assert review_of(book, drive)["glitches"]
    return drive


def review_of(book: str, drive: str) -> dict:
    with Store.open(book) as store:
        return store.reviews(drive)[-1].result


def test_a_captured_glitch_is_played_back_with_its_length(locum, book, listened, tmp_path):
    path = tmp_path / "glitch.csv"
    ran = locum("capture", listened, "--out", str(path), "--casebook", book)
    assert ran.code == 0, ran.talk
    glitches = [g for g in review_of(book, listened)["glitches"] if not g["ours"]]
    assert ran.json["length_ms"] == max(g["length_ms"] for g in glitches)
    rows = list(csv.DictReader(x for x in path.read_text().splitlines() if not x.startswith("#")))
    assert [rows[0]["contact"], rows[-1]["contact"]] == ["through", "through"]
    none = locum("capture", listened, "--number", "999", "--casebook", book)
    assert (none.code, none.json["refusals"][0]["code"]) == (1, "no_such_glitch")
    again = locum("replay", str(path), "--fast", *ROAD, "--casebook", book)
    assert again.code == 0, again.talk
    assert again.json["injected"] == 1
    with Store.open(book) as store:
        moves = [
            row for chunk in chunks_of(store, again.json["drive"]) for row in chunk.moves.tolist()
        ]
    opened = next(t for t, kind, _ in moves if kind == MOVE_OPEN)
    closed = next(t for t, kind, _ in moves if kind == MOVE_THROUGH)
    assert closed - opened == pytest.approx(ran.json["length_ms"], abs=25)


def test_learn_sensor_finds_the_vans_own_curve(locum, book, listened, tmp_path):
    """The thermometer reads what the world's own sensor law makes of the recorded ohms."""
    from locum.virtual.scenarios import make_demo_world

    truth = make_demo_world(1).truth.facts.sensor
    grid = np.linspace(40, 110, 1401)
    ohms = np.array([truth.ohm(c) for c in grid])
    plain = locum("learn", "sensor", listened, "--at", "200=75C,900=85C",
                  "--prior", "parcel_van_coolant", "--casebook", book)  # fmt: skip
    points = [(p["t_s"], p["ohms"]) for p in plain.json["readings"]]
    at = [f"{t:.0f}={np.interp(-r, -ohms, grid):.2f}C" for t, r in points]
    out = tmp_path / "own.toml"
    ran = locum("learn", "sensor", listened, "--at", ",".join(at), "--prior", "parcel_van_coolant",
                "--out", str(out), "--casebook", book)  # fmt: skip
    assert ran.code == 0, ran.talk
    curve = read_sensor(out.read_text(), "own").curve
    for celsius in ran.json["span_c"]:
        told = float(curve.temperature_c(truth.ohm(celsius)))
        assert told == pytest.approx(celsius, abs=ran.json["worst_u_c"])
    assert 0 < ran.json["worst_u_c"] < 3


def test_learn_names_every_bad_reading_and_state(locum, book):
    bad = locum("learn", "sensor", "x", "--at", "600", "--at", "x=82C", "--casebook", book)
    assert bad.code == 2
    assert len(bad.json["refusals"]) == 2
    states = locum(
        "learn", "lines", "x", "--state", "top", "--state", "low@9-3", "--casebook", book
    )
    assert states.code == 2
    assert len(states.json["refusals"]) == 2


def test_learn_lines_gives_the_pattern_that_was_driven(locum, book, listened, tmp_path):
    states = review_of(book, listened)["states"]
    spans = [(a, b, name) for (a, name), (b, _) in zip(states, states[1:], strict=False)]
    longest = {name: max((s for s in spans if s[2] == name), key=lambda s: s[1] - s[0])
               for name in {n for _, _, n in spans}}  # fmt: skip
    said = [f"{'locked' if 'locked' in name else 'released'}@{a / 1000:.1f}-{b / 1000:.1f}"
            for name, (a, b, _) in longest.items()]  # fmt: skip
    out = tmp_path / "vehicle.toml"
    ran = locum("learn", "lines", listened, *(x for s in said for x in ("--state", s)), "--top",
                "locked", "--out", str(out), "--casebook", book)  # fmt: skip
    assert ran.code == 0, ran.talk
    sheet = read_vehicle(out.read_text(), "learnt")
    found = {s.name: (s.lines, s.top) for s in sheet.states}
    assert found == {"locked": ({"converter clutch": "on"}, True),
                     "released": ({"converter clutch": "off"}, False)}  # fmt: skip


# -- the rule of the quiet drive -----------------------------------------------------------------


def test_the_rule_is_stamped_once_and_only_before_the_repair(locum, book, case):
    """3 in 10 h before: 10 h (0.05^(-1/3) - 1) = 17.14 h without one after (by hand)."""
    ran = locum("quiet", "rule", case, "exact", "--casebook", book)
    assert ran.code == 0, ran.talk
    assert ran.json["required_h"] == pytest.approx(17.14, abs=0.01)
    twice = locum("quiet", "rule", case, "sequential", "--casebook", book)
    assert (twice.code, twice.json["refusals"][0]["code"]) == (1, "stamped_already")
    locum("case", "note", case, "plug replaced", "--kind", "repair", "--casebook", book)
    late = locum("quiet", "rule", case, "exact", "--casebook", book)
    assert (late.code, late.json["refusals"][0]["code"]) == (1, "after_repair")
    locum("case", "follow-up", case, "--hours", "7.15", "--kick-outs", "0", "--casebook", book)
    left = locum("quiet", "left", case, "--casebook", book)
    assert left.json["left_min"] == pytest.approx(600, abs=1)
    assert left.json["by_the_rule"]["counts"] is True
    assert left.json["for_information"]["counts"] is False
    assert "600 more minutes" in left.json["sentence"]


def test_the_sequential_rule_takes_an_event_and_goes_on(locum, book, case):
    """0.5/h against 0.05/h at 5 %: 6.54 h with none, 11.66 h with one (A. Wald 1947, by hand)."""
    ran = locum("quiet", "rule", case, "sequential", "--bad", "0.5", "--good", "0.05", "--casebook", book)  # fmt: skip
    assert ran.json["required_h"] == pytest.approx(6.54, abs=0.01)
    locum("case", "note", case, "plug replaced", "--kind", "repair", "--casebook", book)
    locum("case", "follow-up", case, "--hours", "8", "--kick-outs", "1", "--casebook", book)
    left = locum("quiet", "left", case, "--casebook", book)
    assert left.json["by_the_rule"]["decision"] == "go_on"
    assert left.json["left_min"] == pytest.approx(60 * 3.66, abs=1)
    assert left.json["for_information"]["decision"] == "still_bad"


def test_without_a_stamp_the_count_is_information_and_without_events_nothing(locum, book, case):
    locum("case", "note", case, "plug replaced", "--kind", "repair", "--casebook", book)
    left = locum("quiet", "left", case, "--casebook", book)
    assert left.json["by_the_rule"]["counts"] is False
    assert "no proof" in left.json["sentence"]
    bare = locum("case", "new", "Nothing felt", "--casebook", book).json["id"]
    none = locum("quiet", "rule", bare, "exact", "--casebook", book)
    assert (none.code, none.json["refusals"][0]["code"]) == (1, "no_baseline")
