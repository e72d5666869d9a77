"""A case's own rule for time that counts goes before the vehicle sheet; one count of the arms everywhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from locum.casebook.store import Store
from locum.errors import Refused
from locum.jobs.arms import ARMS, arm_counts
from locum.jobs.circuit import open_circuit
from locum.jobs.context import review_context
from locum.verdict.evidence import Drive, Evidence, Stretch
from locum.verdict.weigh import weigh

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")


def context_of(told):
    circuit = open_circuit(vehicle="parcel_van")
    return circuit, review_context(replace(circuit, case_rule=told)).rule


def test_without_words_of_the_case_the_sheet_rules():
    circuit, rule = context_of({})
    assert rule.after_min == circuit.vehicle.exposure.after_min == 10
    assert rule.below_ohm == pytest.approx(circuit.sensor.curve.resistance_ohm(60.0))


def test_what_the_case_names_replaces_the_sheets_and_the_rest_stays():
    circuit, rule = context_of({"minutes_after_start": 25})
    assert rule.after_min == 25
    assert rule.below_ohm == pytest.approx(circuit.sensor.curve.resistance_ohm(60.0))
    _, rule = context_of({"below_c": 40, "above_km_h": 50, "state": "locked"})
    assert rule.above_ohm == pytest.approx(circuit.sensor.curve.resistance_ohm(40.0))
    assert (rule.above_kmh, rule.in_state, rule.after_min) == (50, "locked", 10)


def test_a_value_that_is_no_number_is_refused_by_name():
    with pytest.raises(Refused) as refused:
        context_of({"minutes_after_start": "long"})
    assert "minutes_after_start" in str(refused.value)


def test_a_recording_is_counted_by_the_cases_rule_and_again_when_it_changes(locum, book):
    case = locum("case", "new", "Kicks out", *VAN, "--casebook", book).json["id"]
    locum("case", "set", case, "rule.minutes_after_start=20", "--casebook", book)
    ran = locum(
        "listen", *VAN, "--board", "virtual", "--minutes", "30", "--case", case, "--casebook", book
    )
    assert ran.code == 0, ran.talk
    with Store.open(book) as store:
        drive = store.drives(case)[0].id
    first = exposed_min(book, drive)
    assert first <= 10.1, "of 30 minutes the last ten can count"
    locum("case", "set", case, "rule.minutes_after_start=0", "rule.above_c=-40", "--casebook", book)
    assert locum("drive", "review", drive, "--casebook", book).code == 0
    assert exposed_min(book, drive) >= first + 15


def exposed_min(book, drive):
    with Store.open(book) as store:
        result = store.reviews(drive)[-1].result
    return sum(b - a for a, b in result["exposed"]) / 60_000


def test_the_arms_are_the_verdicts_own_count_provoking_drives_too():
    """Two kick-outs within a minute are one; hours between given glitches count with the others."""
    listen = drive_of("listen", [600.0, 620.0, 2000.0], Stretch(0, 3600, "real"))
    provoke = drive_of("provoke", [900.0], Stretch(0, 1800, "real"), Stretch(1800, 3600, "hold"))
    quiet = replace(drive_of("quiet", [], Stretch(0, 7200, "real")), repaired=True, hours=2.0)
    evidence = Evidence(drives=(listen, provoke, quiet))
    arms = {label: (events, hours) for label, events, hours in arm_counts(evidence)}
    assert arms[ARMS[0][0]] == (3, pytest.approx(1.5))
    assert arms[ARMS[2][0]] == (0, pytest.approx(1.0))
    verdict = weigh(evidence)
    cured = verdict.steps[-1].numbers[0].inputs
    assert (cured["before"], cured["before_h"]) == arms[ARMS[0][0]]
    told = next(
        n for s in verdict.steps for n in s.numbers if n.name.endswith("whole_drives")
    ).inputs
    assert (told["real"], told["real_h"]) == arms[ARMS[0][0]]


def drive_of(kind, releases, *stretches):
    return Drive(
        1.0, ((0.0, 3600.0),), stretches, kind, "sensor",
        release_t_s=np.array(releases), release_regain_s=np.full(len(releases), 4.0),
        release_cause=("none",) * len(releases), brake_t_s=np.empty(0), brake_length_s=np.empty(0),
    )  # fmt: skip


def test_a_comparison_without_two_sides_is_left_out():
    """Listening first, following afterwards: no drive holds both arms."""
    drives = (drive_of("listen", [600.0, 2000.0], Stretch(0, 3600, "real")),
              drive_of("follow", [], Stretch(0, 3600, "follow")))  # fmt: skip
    names = {n.name for step in weigh(Evidence(drives=drives)).steps for n in step.numbers}
    assert "real_over_stand_in" not in names
    assert "real_over_stand_in_whole_drives" in names
    only = {n.name for step in weigh(Evidence(drives=drives[:1])).steps for n in step.numbers}
    assert not {name for name in only if name.startswith("real_over_stand_in")}
