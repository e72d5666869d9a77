"""Which board a command works: none, one, or two of them plugged in."""

import pytest

from answering_line import Line
from locum import cli
from locum.jobs import boards
from locum.link import found_board, ports
from locum.link.boot_drive import boot_drives
from locum.link.ports import USB_PRODUCT_MICROPYTHON, USB_VENDOR, Port


def board(device, serial):
    return Port(device, USB_VENDOR, USB_PRODUCT_MICROPYTHON, serial)


@pytest.mark.parametrize("words", [("listen", "--minutes", "0.1"), ("calibrate",)])
def test_two_boards_are_never_guessed_between(locum, book, monkeypatch, words):
    two = [board("COM3", "E6A"), board("COM4", "E6B")]
    monkeypatch.setattr(ports, "list_ports", lambda: two)
    ran = locum(*words, "--casebook", book)
    assert ran.code == 3
    assert [r["code"] for r in ran.json["refusals"]] == ["several_boards"]
    assert "COM3 (E6A), COM4 (E6B)" in ran.talk
    assert "--board PORT" in ran.talk


def test_without_a_board_the_virtual_one_is_worked_and_named(locum, book, monkeypatch):
    monkeypatch.setattr(ports, "list_ports", list)
    ran = locum("listen", "--minutes", "0.1", "--casebook", book)
    assert ran.code == 0
    assert ran.json["board"].startswith("V")


@pytest.fixture
def plugged_in(monkeypatch):
    """``plugged_in(COM3=answer)``: the boards of this computer and what they say."""

    def plug(**answers):
        monkeypatch.setattr(ports, "list_ports", lambda: [board(name, "E6") for name in answers])
        monkeypatch.setattr(ports, "open_serial", lambda device: Line(answers[device]))
        monkeypatch.setattr(found_board, "FIRMWARE", "0.3.1")
        monkeypatch.setattr(boards, "FIRMWARE", "0.3.1")

    return plug


@pytest.mark.parametrize(
    ("last", "fit", "works", "remedy"),
    [
        (b"0.3.1/P1.0/5", "same", True, None),
        (b"0.2.10/P1.0/5", "behind", True, "locum firmware put COM3"),
        (b"0.10.0/P1.4/5", "ahead", True, None),
        (b"0.0.9/P0.4/5", "too_old", False, "locum firmware put COM3"),
        (b"0.0.1", "too_old", False, "locum firmware put COM3"),
        (b"4.0.0/P2.0/5", "too_new", False, "Install the newer locum"),
    ],
)
def test_versions_are_held_against_each_other(locum, plugged_in, last, fit, works, remedy):
    plugged_in(COM3=b"locum,reference,E6," + last + b"\n")
    ran = locum("firmware", "versions")
    [told] = ran.json["boards"]
    assert (told["fit"], told["works"], ran.code) == (fit, works, 0 if works else 1)
    assert ran.json["program"]["firmware"] == "0.3.1"
    assert told["remark"] is None if remedy is None else remedy in told["remark"]["text"]


def test_versions_are_told_in_words(capsys, plugged_in):
    plugged_in(COM3=b"locum,reference,E6,0.2.10/P1.0/5\n", COM4=b">>> ")
    assert cli.main(["firmware", "versions"]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "carries firmware 0.3.1, protocol 1." in told
    assert "COM3: reference E6 runs firmware 0.2.10, protocol 1; older, but of the same" in told
    assert "COM4: wanted a board that runs the locum firmware" in told
    assert "locum firmware put COM4" in told


def test_versions_of_a_named_port_alone(locum, plugged_in):
    plugged_in(COM3=b"locum,reference,E6,0.3.1/P1.0/5\n", COM4=b">>> ")
    ran = locum("firmware", "versions", "COM3")
    assert [told["port"] for told in ran.json["boards"]] == ["COM3"]


def test_a_firmware_that_is_behind_still_works_the_board(plugged_in):
    plugged_in(COM3=b"locum,reference,E6,0.2.9/P1.0/5\n")
    assert ports.choose_board(ports.find_boards(opener=ports.open_serial)).port == "COM3"


@pytest.fixture
def start_up_drive(tmp_path):
    folder = tmp_path / "RPI-RP2"
    folder.mkdir()
    (folder / "INFO_UF2.TXT").write_text(
        "UF2 Bootloader v3.0\nModel: Raspberry Pi RP2\nBoard-ID: RPI-RP2\n"
    )
    return folder


def test_find_tells_a_board_that_has_no_micropython(capsys, plugged_in, start_up_drive):
    plugged_in()
    assert cli.main(["find", "--drives", str(start_up_drive)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "it has no MicroPython yet" in told
    assert "locum firmware put" in told
    assert "No board found" not in told


def test_find_without_any_board_says_what_to_plug_in(locum, plugged_in, tmp_path):
    plugged_in()
    ran = locum("find", "--drives", str(tmp_path))
    assert (ran.json["boards"], ran.json["boot_drives"]) == ([], [])
    assert [warning["code"] for warning in ran.json["warnings"]] == ["no_board"]


def test_find_tells_a_board_and_what_is_wrong_with_another(capsys, plugged_in, tmp_path):
    plugged_in(COM3=b"locum,reference,E6,0.3.1/P1.0/5\n", COM4=b">>> ")
    assert cli.main(["find", "--drives", str(tmp_path)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "COM3: reference E6, firmware 0.3.1, ready."
    assert "locum firmware put COM4" in " ".join(lines[1:])


def test_every_folder_that_is_none_is_refused_at_once(locum, plugged_in, tmp_path):
    plugged_in()
    ran = locum("find", "--drives", str(tmp_path / "a"), str(tmp_path / "b"))
    assert ran.code == 1
    assert len(ran.json["refusals"]) == 2


def test_putting_firmware_on_a_board_without_micropython_says_so(
    locum, plugged_in, start_up_drive, monkeypatch
):
    plugged_in()
    monkeypatch.setattr(boards, "boot_drives", lambda: boot_drives([start_up_drive]))
    ran = locum("firmware", "put")
    assert ran.code == 3
    assert [r["code"] for r in ran.json["refusals"]] == ["board_without_micropython"]
