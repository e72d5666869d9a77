"""The board measures itself: killed and gone on with, damaged leftovers, a stored calibration that is spoiled."""

import json
import subprocess
import sys
import zlib

import pytest

from kept_readings import READINGS, keep_readings
from locum import cli
from locum.casebook.store import Store
from locum.errors import FileTrouble, Refused
from locum.jobs import connection as opening
from locum.jobs.calibrating import measure_board
from locum.jobs.circuit import open_board
from locum.locations import data_folder
from locum.physics.calibration import Calibration
from locum.physics.calibration_kept import canonical
from locum.physics.network import Network
from locum.sheets.board import read_board
from locum.sheets.lookup import find_sheet


@pytest.fixture
def calibrated(capsys, tmp_path):
    """``calibrated(code)``: a calibration of the virtual board, as its JSON document."""

    def run(code=0, *words):
        capsys.readouterr()
        book = str(tmp_path / "book.sqlite")
        assert cli.main(["calibrate", "--board", "virtual", "--casebook", book, "--json", *words]) == code  # fmt: skip
        return json.loads(capsys.readouterr().out)

    return run


def killed_on_the_way(tmp_path) -> str:
    """Starts a calibration and kills it, without a chance to tidy up, once it told 400 readings."""
    words = ["calibrate", "--board", "virtual", "--casebook", str(tmp_path / "book.sqlite")]
    start = f"import sys; from locum.cli import main; sys.exit(main({words!r}))"
    with subprocess.Popen(
        [sys.executable, "-c", start], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stderr is not None
        for line in process.stderr:
            if line.startswith("400 of"):
                process.kill()
                return line
    return ""


def test_a_calibration_that_was_killed_goes_on_where_it_stopped(calibrated, tmp_path):
    assert "s left" in killed_on_the_way(tmp_path)
    with Store.open(tmp_path / "book.sqlite") as store:
        assert store.calibrations() == []
    found = calibrated()
    assert found["complete"]
    assert found["readings"] <= 2862 - 400
    assert calibrated()["readings"] == 2862  # nothing is left over for the next one


def test_a_demo_is_the_same_whatever_a_calibration_that_was_cut_off_has_left(tmp_path_factory):
    """Its car must not have lived a minute less; nor may it use up what somebody wants to go on with."""
    keep_readings(500, str(tmp_path_factory.getbasetemp()))
    left = (data_folder() / "calibration-V0001.json").read_bytes()
    sheet = open_board(None)[0]
    connection = opening.connect("virtual", sheet, speed=0)
    try:
        made, taken = measure_board(connection, sheet, resumable=False)
    finally:
        connection.close()
    assert made is not None
    assert taken == READINGS
    assert (data_folder() / "calibration-V0001.json").read_bytes() == left


@pytest.mark.parametrize(
    "left", ["", "[1, 2]", '{"on": 3}', '{"began_utc": "soon", "on": [], "off": []}']
)
def test_leftovers_that_cannot_be_used_are_begun_anew(calibrated, left):
    data_folder().mkdir(parents=True, exist_ok=True)
    (data_folder() / "calibration-V0001.json").write_text(left)
    assert calibrated()["readings"] == 2862


def stored(tmp_path) -> dict:
    with Store.open(tmp_path / "book.sqlite") as store:
        return dict(store.calibrations()[-1].body)


def test_a_spoiled_calibration_is_refused_with_what_is_wrong(calibrated, tmp_path):
    calibrated()
    body = stored(tmp_path)
    assert Calibration.from_dict(body).board_serial == "V0001"
    moved = {**body, "series_ohm": body["series_ohm"] + 1}
    for spoiled in (moved, {**body, "format": 99}, [], "text", {}):
        with pytest.raises(FileTrouble) as told:
            Calibration.from_dict(spoiled)
        assert "calibrate again" in told.value.remarks[0].text.lower()


def test_a_stored_calibration_without_a_table_names_it(calibrated, tmp_path):
    calibrated()
    content = {k: v for k, v in stored(tmp_path).items() if k not in ("crc", "table_ohm")}
    body = {**content, "crc": f"{zlib.crc32(canonical(content)):08x}"}
    with pytest.raises(FileTrouble, match="table_ohm is missing"):
        Calibration.from_dict(body)


def test_a_hand_meter_that_contradicts_is_refused_and_one_that_agrees_is_named(
    calibrated, tmp_path
):
    good = (
        "--meter",
        "bench",
        "--accuracy",
        "0.1",
        "--verify",
        "200=200.1",
        "--verify",
        "9k=9.002k",
    )
    assert [round(row["off_pct"], 2) for row in calibrated(0, *good)["verified"]] == [0.05, 0.02]
    assert stored(tmp_path)["meter"] == "bench"
    calibrated(1, "--meter", "poor", "--verify", "200=230", "--verify", "9k=9k")


def test_a_calibration_of_another_network_is_refused(calibrated, tmp_path):
    calibrated()
    found = find_sheet("board", "starter")
    starter = Network.from_board(read_board(found.text, found.name))
    with pytest.raises(Refused, match="4 wipers"):
        starter.calibrated(Calibration.from_dict(stored(tmp_path)))
