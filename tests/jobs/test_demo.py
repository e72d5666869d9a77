"""The whole case on the virtual board: played once guilty and once innocent, then weighed again.

The world's secret dies with the process that played it; a fresh process comes to the same verdict
from the casebook alone.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

KINDS = ["listen", "provoke", "follow", "reverse", "quiet"]


def play(folder: Path, *options: str) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", "locum.cli", "demo", "--out", str(folder), "--json", *options],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def guilty(tmp_path_factory):
    return play(tmp_path_factory.mktemp("guilty"))


@pytest.fixture(scope="module")
def innocent(tmp_path_factory):
    return play(tmp_path_factory.mktemp("innocent"), "--innocent")


pytestmark = pytest.mark.timeout(400)


def test_the_guilty_circuit_is_blamed_and_the_repair_proved(guilty):
    assert guilty["verdict"]["culprit"] == "sensor_circuit"
    assert guilty["verdict"]["proof"] in ("found", "cured")
    assert guilty["verdict"]["p_value"] < 0.01
    assert [d["kind"] for d in guilty["drives"]][: len(KINDS)] == KINDS
    by_kind = {d["kind"]: d for d in guilty["drives"]}
    assert by_kind["listen"]["kick_outs"] >= 2
    assert by_kind["listen"]["exposure_h"] == pytest.approx(1.5, abs=0.1)
    assert by_kind["follow"]["kick_outs"] == 0


def test_each_rate_of_the_page_is_the_sum_of_its_drives(guilty):
    """The kick-outs listed one by one and the hours of each drive add up to what tests are made of;
    on the road each kick-out came while its time counted: its own glitch may not take that away."""
    told = json.loads(Path(guilty["report"]).with_suffix(".json").read_text("utf-8"))
    before = [d for d in told["drives"] if d["kind"] != "quiet"]
    kicks = [r["counted"] for d in before for r in d["releases"] if r["cause"] == "none"]
    rates = {r["label"]: (r["events"], r["hours"]) for r in told["rates"]}
    real, stand_in = rates["real sensor, before repair"], rates["stand-in, before repair"]
    assert real[0] + stand_in[0] == kicks.count("counts")
    assert "outside the time that counts" not in kicks
    assert real[1] == pytest.approx(sum(d["real_h"] for d in before), abs=0.003)
    assert stand_in[1] == pytest.approx(sum(d["stand_in_h"] for d in before), abs=0.003)
    page = Path(guilty["report"]).read_text(encoding="utf-8")
    assert "Only glitches long enough for this module to answer: towards cold from" in page


@pytest.mark.parametrize("which", ["guilty", "innocent"])
def test_no_number_of_the_conclusion_is_missing_on_the_page(which, request):
    """Each with its inputs, and the one that carries the conclusion named."""
    played = request.getfixturevalue(which)
    told = json.loads(Path(played["report"]).with_suffix(".json").read_text("utf-8"))["verdict"]
    shown = [t for step in told["steps"] for t in step["tests"]] + told["rests_on"]
    printed = {t["says"].partition(":")[0] for t in shown}
    assert {n["name"] for n in played["verdict"]["numbers"]} <= printed
    carriers = [t for t in shown if t["p_value"] == pytest.approx(told["p_value"], rel=1e-9)]
    assert told["carried_by"] in {t["name"] for t in carriers}
    assert all(t["inputs"] for t in shown)


def test_the_innocent_circuit_is_not_blamed_and_the_page_says_so(innocent):
    verdict = innocent["verdict"]
    assert verdict["culprit"] == "none"
    assert "quiet" not in {d["kind"] for d in innocent["drives"]}
    page = Path(innocent["report"]).read_text(encoding="utf-8")
    assert verdict["sentence"].split(".")[0] in re.sub(r"<[^>]+>", "", page)


def test_the_same_verdict_from_the_casebook_alone_in_a_fresh_process(guilty):
    done = subprocess.run(
        [sys.executable, "-m", "locum.cli", "case", "weigh", guilty["case"], "--casebook",
         guilty["casebook"], "--json"], capture_output=True, text=True, check=True,
    )  # fmt: skip
    again = json.loads(done.stdout)["verdict"]
    for key in ("proof", "culprit", "conclusion", "p_value", "sentence", "numbers"):
        assert again[key] == guilty["verdict"][key]


def test_the_report_stands_alone(guilty):
    page = Path(guilty["report"]).read_text(encoding="utf-8")
    assert page.count("<svg") >= 3
    outside = re.findall(r'(?:src|href)\s*=\s*"(?!#|data:)([^"]+)"|url\((?!#|data:)([^)]+)\)', page)
    assert outside == []
    assert "<script src" not in page


def test_reviewing_a_stored_drive_again_finds_the_same(guilty):
    from locum.casebook.store import Store
    from locum.jobs.drives import review_drive
    from locum.jobs.jsontext import plain_json

    with Store.open(guilty["casebook"]) as store:
        drive = store.drives(guilty["case"])[1]
        kept = store.reviews(drive.id)[-1].result
        again = plain_json(review_drive(store, drive.id).as_dict())
    for key in ("releases", "glitches", "injections", "exposure"):
        assert again[key] == kept[key]


def test_an_existing_folder_gets_a_further_case(guilty):
    from locum.casebook.store import Store
    from locum.jobs.demo import open_case

    with Store.open(guilty["casebook"]) as store:
        before = len(store.cases())
        open_case(store, {"vehicle": "parcel_van"})
        assert len(store.cases()) == before + 1
