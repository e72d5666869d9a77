"""A board that shows a drive instead of a port."""

import pytest

from locum.link.boot_drive import boot_drives, mount_folders

# The file as an RP2040's start-up code writes it, from memory.
PICO = "UF2 Bootloader v3.0\r\nModel: Raspberry Pi RP2\r\nBoard-ID: RPI-RP2\r\n"
OTHER = "UF2 Bootloader v1.0\nModel: Raspberry Pi RP2350\nBoard-ID: RP2350\n"


def drive(folder, text):
    folder.mkdir(parents=True)
    (folder / "INFO_UF2.TXT").write_bytes(text.encode())
    return folder


def test_a_pico_that_waits_is_told_with_the_steps_to_take(tmp_path):
    folder = drive(tmp_path / "RPI-RP2", PICO)
    [found] = boot_drives([folder])
    assert (found.folder, found.board_id, found.fits) == (str(folder), "RPI-RP2", True)
    text = found.remark.text
    assert "no MicroPython yet" in text
    assert text.index(".uf2") < text.index("locum firmware put")


def test_another_board_is_not_taken_for_a_pico(tmp_path):
    [found] = boot_drives([drive(tmp_path / "a", OTHER)])
    assert not found.fits
    assert "Raspberry Pi RP2350" in found.remark.text
    assert "firmware put" not in found.remark.text


@pytest.mark.parametrize("text", ["", "holiday pictures\n", "Model: Raspberry Pi RP2\n", "\0\xff" * 9000])  # fmt: skip
def test_other_drives_are_none_of_ours(tmp_path, text):
    assert boot_drives([drive(tmp_path / "stick", text)]) == []


def test_empty_and_vanished_drives_are_passed_over(tmp_path):
    (tmp_path / "empty").mkdir()
    assert boot_drives([tmp_path / "empty", tmp_path / "gone"]) == []


def test_a_drive_is_read_and_never_written(tmp_path):
    folder = drive(tmp_path / "a", PICO)
    before = [(p.name, p.stat().st_mtime_ns, p.read_bytes()) for p in folder.iterdir()]
    boot_drives([folder])
    assert [(p.name, p.stat().st_mtime_ns, p.read_bytes()) for p in folder.iterdir()] == before


@pytest.mark.parametrize(
    ("system", "place"),
    [
        ("linux", "media/kim/RPI-RP2"),
        ("linux", "run/media/kim/RPI-RP2"),
        ("linux", "media/RPI-RP2"),
        ("linux", "mnt/pico"),
        ("darwin", "Volumes/RPI-RP2"),
    ],
)
def test_drives_are_looked_for_where_the_system_mounts(tmp_path, system, place):
    drive(tmp_path / place, PICO)
    assert len(boot_drives(mount_folders(system, tmp_path))) == 1


def test_on_windows_every_letter_from_d_on_is_looked_at():
    letters = [str(folder)[0] for folder in mount_folders("win32")]
    assert (letters[0], letters[-1], len(letters)) == ("D", "Z", 23)
