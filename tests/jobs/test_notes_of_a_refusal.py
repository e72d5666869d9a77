"""What had been noted before a refusal is told with it; a test without two sides is no finding."""

from __future__ import annotations

from locum import cli
from locum.jobs.demo import _number_line
from locum.report.number_words import nothing_to_compare
from locum.verdict.finding import Number

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--board", "virtual")


def steep(tmp_path) -> str:
    """Whole degrees that are smoothed, and at their end hotter than any network can be."""
    path = tmp_path / "steep.csv"
    warm = [f"{t},{70 + t // 60}" for t in range(0, 600, 10)]
    hot = [f"{600 + 10 * n},{80 + 2 * n}" for n in range(1, 60)]
    path.write_text("time_s,celsius\n" + "\n".join(warm + hot) + "\n")
    return str(path)


def test_a_refused_replay_still_tells_what_was_noted_of_its_recording(locum, book, tmp_path):
    ran = locum("replay", steep(tmp_path), *VAN, "--casebook", book)
    assert ran.code == 1
    assert ran.json["refusals"], ran.talk
    assert "smoothed" in [note["code"] for note in ran.json["warnings"]]


def test_in_words_as_well(book, tmp_path, capsys):
    assert cli.main(["replay", steep(tmp_path), *VAN, "--casebook", book]) == 1
    told = capsys.readouterr().err
    assert "Note: " in told
    assert "Smoothed within half a degree" in told


def test_a_stratified_test_without_a_stratum_is_told_as_nothing_to_compare():
    test = "exact.stratified_conditional"
    assert nothing_to_compare(test, 1.0, {"real": 9.0, "real_h": 2.0, "stand_in": 0.0})
    assert not nothing_to_compare(test, 1.0, {"real": 9.0, "real_1": 9.0})
    assert not nothing_to_compare(test, 0.02, {"real": 9.0, "real_h": 2.0})
    assert not nothing_to_compare("exact.fisher", 1.0, {"hits": 0.0})
    told = _number_line(Number("real_over_stand_in", 1.0, test, {"real": 9.0}, "one-sided"))
    assert told.endswith("nothing to compare within drives")
    assert "p =" not in told
