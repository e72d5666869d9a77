"""Checkup: what is looked at, what is said when something is wrong, what the bundle keeps out."""

import errno
import json
import sqlite3
import zipfile
from pathlib import Path

import pytest

from answering_line import Line
from locum.bodies.pace import Reached
from locum.errors import FileTrouble, LinkTrouble, Remark
from locum.jobs import checkup_board as module
from locum.jobs import checkup_bundle as packing
from locum.jobs.checkup import Surroundings, checkup
from locum.jobs.checkup_bundle import without_identity
from locum.link.boot_drive import boot_drives
from locum.link.ports import USB_PRODUCT_MICROPYTHON, USB_VENDOR, Port

PICO = Port("/dev/ttyACM0", USB_VENDOR, USB_PRODUCT_MICROPYTHON, "E661AA")


@pytest.fixture
def around(tmp_path):
    return Surroundings(
        ports=lambda: [PICO],
        boot_drives=list,
        opener=lambda device: Line(b"locum,reference,E661AA,0.1.0/P1.0/5\n"),
        environment={"TERM": "xterm-256color"},
        encoding="utf-8",
        free_bytes=lambda path: 10**10,
        data_folder=lambda: tmp_path,
        modules=lambda name: True,
        system="linux",
    )


def look(around, **options):
    options.setdefault("casebook", str(around.data_folder() / "none.sqlite"))
    found = checkup(around=around, **options)
    return found, {check.name: check for check in found.checks}


def test_everything_good_passes_and_is_told_in_the_order_of_mending(around):
    found, _ = look(around)
    assert found.passed
    assert [check.name.split()[0] for check in found.checks] == [
        "versions", "port", "firmware", "terminal", "glyphs", "disk", "casebook",
    ]  # fmt: skip


def test_the_json_is_a_list_of_checks(around):
    document = look(around)[0].as_json()
    assert {"name", "passed", "detail"} == set(document["checks"][0])
    json.dumps(document)


def test_without_a_board_it_says_what_to_plug_in(around):
    around.ports = list
    check = look(around)[1]["ports"]
    assert not check.passed
    assert "carries data" in check.detail


def test_a_board_that_has_no_micropython_is_told(around, tmp_path):
    (tmp_path / "INFO_UF2.TXT").write_text("UF2 Bootloader v3.0\nBoard-ID: RPI-RP2\n")
    around.ports = list
    around.boot_drives = lambda: boot_drives([tmp_path])
    check = look(around)[1][f"drive {tmp_path}"]
    assert not check.passed
    assert "Copy MicroPython" in check.detail


def test_permission_comes_with_the_exact_command(around, monkeypatch):
    def denied(device):
        raise OSError(errno.EACCES, "denied")

    around.opener = denied
    monkeypatch.setattr("locum.link.port_trouble.group_of", lambda device: "plugdev")
    monkeypatch.setenv("USER", "kim")
    check = look(around)[1]["port /dev/ttyACM0"]
    assert not check.passed
    assert "sudo usermod -aG plugdev kim" in check.detail


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (b"locum,reference,E661AA,0.0.1/P0.1/5\n", "firmware put"),
        (b">>> ", "firmware put"),
        (b"locum,reference,E661AA,9.0.0/P2.0/5\n", "newer locum"),
        (b"", "hold its button"),
    ],
)
def test_firmware_that_does_not_fit_says_how_to_mend_it(around, answer, words):
    around.opener = lambda device: Line(answer)
    check = look(around)[1]["firmware /dev/ttyACM0"]
    assert not check.passed
    assert words in check.detail


def test_a_virtual_board_needs_no_port(around):
    _, checks = look(around, board="virtual")
    assert not any(name.startswith(("port", "firmware")) for name in checks)


def test_a_pi_without_its_library_is_told_how_to_get_it(around):
    around.modules = lambda name: name != "lgpio"
    check = look(around, board="pi")[1]["pins"]
    assert not check.passed
    assert "pip install" in check.detail


@pytest.mark.parametrize(
    ("environment", "system", "passed"),
    [
        ({"TERM": "dumb"}, "linux", False),
        ({}, "linux", False),
        ({"TERM": "screen", "SSH_CONNECTION": "1"}, "linux", True),
        ({"WT_SESSION": "1"}, "win32", True),
        ({}, "win32", False),
    ],
)
def test_terminals(around, environment, system, passed):
    around.environment, around.system = environment, system
    assert look(around, board="virtual")[1]["terminal"].passed is passed


def test_an_encoding_without_blocks_is_told(around):
    around.encoding = "latin-1"
    check = look(around)[1]["glyphs"]
    assert not check.passed
    assert "UTF-8" in check.detail


def test_a_full_disk_and_a_folder_that_cannot_be_written(around):
    around.free_bytes = lambda path: 1000
    assert "make room" in look(around)[1]["disk"].detail

    def refused():
        raise PermissionError(errno.EACCES, "Permission denied", "/somewhere")

    casebook = str(Path(__file__).parent / "none.sqlite")
    around.data_folder = refused
    found = {c.name: c for c in checkup(around=around, casebook=casebook).checks}
    assert not found["disk"].passed
    assert "/somewhere" in found["disk"].detail


def test_casebooks_whole_damaged_and_none(around, tmp_path):
    whole = tmp_path / "whole.sqlite"
    connection = sqlite3.connect(whole)
    connection.execute("CREATE TABLE cases (id TEXT)")
    connection.executemany("INSERT INTO cases VALUES (?)", [("x" * 900,)] * 200)
    connection.commit()
    connection.close()
    before = whole.read_bytes()
    assert look(around, casebook=str(whole))[1]["casebook"].passed
    assert whole.read_bytes() == before, "a checkup changes nothing"
    broken = tmp_path / "broken.sqlite"
    broken.write_bytes(before[:8192] + b"\xff" * 40000 + before[48192:])
    assert not look(around, casebook=str(broken))[1]["casebook"].passed
    none = tmp_path / "none.sqlite"
    assert look(around, casebook=str(none))[1]["casebook"].passed
    assert not none.exists()


def test_the_bundle_has_checks_and_log_and_no_identity(around, tmp_path, monkeypatch):
    log = tmp_path / "locum.log"
    log.write_text("kim drove WVWZZZ1JZXW000001 from /home/kim/cases, mail kim@example.org\n")
    monkeypatch.setattr(packing.locations, "log_path", lambda: log)
    monkeypatch.setattr(packing.getpass, "getuser", lambda: "kim")
    monkeypatch.setattr(packing.Path, "home", lambda: Path("/home/kim"))
    target = tmp_path / "for-help.zip"
    found, _ = look(around, bundle=str(target))
    assert found.bundle == str(target.resolve())
    with zipfile.ZipFile(target) as archive:
        assert set(archive.namelist()) == {"checks.json", "locum.log"}
        text = archive.read("locum.log").decode()
    assert text == "<user> drove <vin> from ~/cases, mail <address>\n"


def test_a_bundle_that_cannot_be_written_is_a_plain_sentence(around, tmp_path):
    with pytest.raises(FileTrouble, match="folder that can be written"):
        look(around, bundle=str(tmp_path / "no" / "such" / "folder.zip"))


def test_short_names_do_not_eat_words(monkeypatch):
    monkeypatch.setattr(packing.getpass, "getuser", lambda: "a")
    assert without_identity("a relay") == "a relay"


def pi_with(around, monkeypatch, reached):
    """A Pi whose pins are all right and that reached this."""
    monkeypatch.setattr(module, "_pi", lambda around: module.Check("pins", True, "there"))
    around.pi_pace = reached
    return look(around, board="pi")[1]


def test_a_pi_says_what_rate_it_reaches_beside_its_sheets(around, monkeypatch):
    check = pi_with(around, monkeypatch, lambda sheet: Reached(1740, 2.0, 12.4))["sampling"]
    assert check.passed
    assert "870 readings a second, longest gap 12 ms" in check.detail
    assert "the board sheet says 900 (estimated, not measured on a real Raspberry Pi)" in check.detail  # fmt: skip


@pytest.mark.parametrize("first", [True, False])
def test_a_pi_that_waits_its_turn_is_told_how_to_get_ahead(around, monkeypatch, first):
    check = pi_with(around, monkeypatch, lambda sheet: Reached(1990, 2.0, 3.0, first))["sampling"]
    assert check.passed
    assert "ahead of other programs" in check.detail
    assert ("rtprio" in check.detail) is not first


@pytest.mark.parametrize("reached", [Reached(500, 2.0, 12.0), Reached(1900, 2.0, 140.0)])
def test_a_pi_that_is_held_up_is_told_what_to_do(around, monkeypatch, reached):
    check = pi_with(around, monkeypatch, lambda sheet: reached)["sampling"]
    assert not check.passed
    assert "end other programs" in check.detail


def test_a_pi_whose_pins_another_program_has_says_so(around, monkeypatch):
    def taken(sheet):
        raise LinkTrouble(Remark("pins", "pi", "the header's pins", "busy", "end other programs"))

    check = pi_with(around, monkeypatch, taken)["sampling"]
    assert not check.passed
    assert "End other programs" in check.detail
