"""Names that no system takes, disks that are full: a sentence, never a fault of ours."""

from __future__ import annotations

import errno

import pytest

from locum.errors import FileTrouble, Refused
from locum.jobs import desk as desks
from locum.jobs.boards import find
from locum.jobs.case_pages import readable
from locum.jobs.cases import kept_casebook
from locum.jobs.checkup import checkup
from locum.jobs.desk_facts import Setup
from locum.jobs.files import is_file, is_folder, is_there
from locum.settings import Settings

TOO_LONG = "x" * 300


@pytest.mark.parametrize("look", [is_there, is_file, is_folder])
@pytest.mark.parametrize("name", [TOO_LONG, "with\0nothing", "none/here"])
def test_a_name_that_no_system_takes_is_not_there(look, name):
    assert look(name) is False


def test_what_is_there_is_told_apart(tmp_path):
    (tmp_path / "file").touch()
    assert (is_there(tmp_path), is_file(tmp_path), is_folder(tmp_path)) == (True, False, True)
    assert (is_there(tmp_path / "file"), is_file(tmp_path / "file")) == (True, True)


def test_every_place_that_is_asked_for_says_so_in_its_own_words(capsys):
    with kept_casebook(TOO_LONG) as store:
        assert not store.cases()
    assert "wanted a casebook, found no file" in capsys.readouterr().err
    with pytest.raises(FileTrouble, match="a file to enclose"):
        readable([TOO_LONG])
    with pytest.raises(Refused, match="wanted a folder"):
        find([TOO_LONG])
    checks = {check.name: check for check in checkup(board="virtual", casebook=TOO_LONG).checks}
    assert "none yet" in checks["casebook"].detail


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "Make room on that disk"),
        (FileNotFoundError(errno.ENOENT, "No such file or directory", "/gone/book"), "/gone/book"),
        (PermissionError(errno.EACCES, "Permission denied", "/mine"), "name another"),
    ],
)
def test_a_desk_without_a_disk_says_what_is_wrong_and_what_to_do(monkeypatch, book, error, words):
    def open_(*_arguments):
        raise error

    monkeypatch.setattr(desks.Store, "open", open_)
    desk = desks.Desk(Setup(board="virtual", casebook=str(book)), Settings())
    desk._work()
    (remark,) = desk.snapshot().remarks
    assert desk.snapshot().phase == "ended"
    assert words in remark.text
    assert "what was recorded until then is kept" in remark.text
    assert "Error" not in remark.text
