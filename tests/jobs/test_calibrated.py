"""Which stored calibration is brought to bear on a board, and what is said when none is."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from locum import cli
from locum.casebook.store import Store
from locum.errors import Remark
from locum.jobs import standing
from locum.jobs.calibrated import with_calibration
from locum.jobs.circuit import open_circuit
from locum.jobs.desk_session import DeskLive
from locum.physics.calibration import Calibration

NOW = datetime(2026, 6, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """A calibration that the virtual board made of itself."""
    home = tmp_path_factory.mktemp("calibrated")
    book = home / "book.sqlite"
    with pytest.MonkeyPatch.context() as surroundings:  # made before each test's own folders
        for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"):
            surroundings.setenv(name, str(home / name.lower()))
        assert cli.main(["calibrate", "--board", "virtual", "--casebook", str(book), "--json"]) == 0
    with Store.open(book) as store:
        return Calibration.from_dict(store.calibrations()[-1].body)


@pytest.fixture
def applied(measured, tmp_path):
    """``applied((kept under, serial inside, age in days), ...)``: the circuit of board E6A then."""

    def apply(*kept):
        with Store.open(tmp_path / "book.sqlite") as store:
            for under, inside, days in kept:
                made = (NOW - timedelta(days=days)).isoformat()
                body = replace(measured, board_serial=inside, date_utc=made).to_dict()
                store.add_calibration(under, body)
            connection = SimpleNamespace(
                identity=SimpleNamespace(serial="E6A"), clock=SimpleNamespace(utc=lambda: NOW)
            )
            return with_calibration(store, connection, open_circuit())  # pyright: ignore

    return apply


def own(circuit):
    """The remarks that a calibration caused."""
    return {r.code: r.text for r in circuit.remarks if "calibrat" in r.code or r.code == "other_board"}  # fmt: skip


def test_the_boards_own_calibration_is_used(applied):
    circuit = applied(("E6A", "E6A", 10))
    assert circuit.calibration.board_serial == "E6A"
    assert own(circuit) == {}


def test_a_board_without_one_is_nominal_and_says_so(applied):
    circuit = applied()
    assert circuit.calibration is None
    assert "never calibrated" in own(circuit)["not_calibrated"]


def test_calibrations_of_other_boards_are_left_alone_and_named(applied):
    nominal = open_circuit().network
    circuit = applied(("E6B", "E6B", 10), ("E6C", "E6C", 3))
    assert circuit.calibration is None
    assert circuit.network.series_ohm == nominal.series_ohm
    told = own(circuit)["not_calibrated"]
    assert "calibrations of other boards, which are not used for this one" in told
    assert "board E6B" in told
    assert "board E6C" in told
    assert "locum calibrate" in told


def test_one_that_says_it_is_another_boards_is_refused_though_kept_under_this_one(applied):
    circuit = applied(("E6A", "E6B", 10))
    assert circuit.calibration is None
    told = own(circuit)
    assert "the calibration of board E6A" in told["other_board"]
    assert "that of board E6B" in told["other_board"]
    assert "not_calibrated" in told


@pytest.mark.parametrize(
    ("days", "used", "codes", "words"),
    [
        (179, True, set(), ""),
        (181, True, {"calibration_old"}, "found 181 days"),
        (399, True, {"calibration_old"}, "calibrate again when there is time"),
        (401, False, {"calibration_age", "not_calibrated"}, "found 401 days"),
        (-2, False, {"calibration_ahead", "not_calibrated"}, "clock"),
    ],
)
def test_the_age_of_a_calibration_counts(applied, days, used, codes, words):
    circuit = applied(("E6A", "E6A", days))
    assert (circuit.calibration is not None) == used
    told = own(circuit)
    assert set(told) == codes
    assert words.lower() in " ".join(told.values()).lower()


@pytest.fixture
def said(measured, tmp_path, capsys):
    """``said(days, ambient_c, *words)``: exit code and JSON of a command, calibrated like that."""

    def ask(days, ambient_c, *words):
        made = (datetime.now(UTC) - timedelta(days=days)).isoformat()
        body = replace(measured, date_utc=made, ambient_c=ambient_c).to_dict()
        book = tmp_path / "said.sqlite"
        with Store.open(book) as store:
            store.add_calibration(measured.board_serial, body)
        code = cli.main([*words, "--casebook", str(book), "--json"])
        return code, json.loads(capsys.readouterr().out)

    return ask


def test_a_calibration_keeps_what_the_boards_own_thermometer_said(measured):
    # The virtual board's air has 23 degC, and it warms by up to 5 K while it is powered.
    assert 23.0 < measured.ambient_c <= 28.0


@pytest.mark.parametrize(("ambient_c", "warned"), [(25.0, False), (55.0, True), (-10.0, True)])
def test_a_board_far_from_its_calibrations_temperature_says_so(said, ambient_c, warned):
    hold = ("hold", "80", "--minutes", "0.5", "--board", "virtual")
    code, told = said(1, ambient_c, *hold)
    assert code == 0
    assert any(w["code"] == "calibration_temperature" for w in told["warnings"]) == warned


@pytest.mark.parametrize("ambient_c", [25.0, 55.0])
def test_it_is_said_before_the_module_is_told_anything(measured, tmp_path, capsys, ambient_c):
    """The note comes while the real sensor is still connected, with both temperatures and a remedy."""
    body = replace(measured, date_utc=datetime.now(UTC).isoformat(), ambient_c=ambient_c).to_dict()
    with Store.open(tmp_path / "book.sqlite") as store:
        store.add_calibration(measured.board_serial, body)
    told, kept = [], standing.run_plan

    def before(live, plan):
        told.append((live.status.source, capsys.readouterr().err))
        kept(live, plan)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(standing, "run_plan", before)
        hold = ["hold", "80", "--minutes", "0.5", "--board", "virtual", "--json"]
        assert cli.main([*hold, "--casebook", str(tmp_path / "book.sqlite")]) == 0
    document = json.loads(capsys.readouterr().out)
    ((source, words),) = told
    assert source == "real"
    near = "55 degC, where it was calibrated"
    assert (near in words) is (ambient_c == 55.0)
    assert ("locum calibrate` at this one" in words) is (ambient_c == 55.0)
    codes = [w["code"] for w in document["warnings"]]
    assert codes.count("calibration_temperature") == (ambient_c == 55.0)


def test_a_budget_says_when_its_calibration_is_old_and_refuses_a_stale_one(said):
    budget = ("sensor", "budget", "20C=2500,80C=320", "--celsius", "80")
    code, told = said(10, 23.0, *budget)
    assert (code, [w["code"] for w in told["warnings"] if "calibration" in w["code"]]) == (0, [])
    code, told = said(200, 23.0, *budget)
    assert code == 0
    assert any(w["code"] == "calibration_old" for w in told["warnings"])
    code, told = said(500, 23.0, *budget)
    assert code == 1
    assert told["refusals"][0]["code"] == "calibration_age"


def test_at_the_desk_a_warning_appears_once_among_the_remarks(book):
    shown = {"remarks": ()}
    desk = SimpleNamespace(told=SimpleNamespace(**shown))
    session = SimpleNamespace(desk=desk, show=lambda **new: desk.told.__dict__.update(new))
    live = DeskLive.__new__(DeskLive)
    live.warnings, live.session = [], session
    remark = Remark("calibration_temperature", "board E6A", "near", "far", "calibrate")
    live.warn(remark)
    live.warn(remark)
    assert desk.told.remarks == (remark,)
    assert live.warnings == [remark]
