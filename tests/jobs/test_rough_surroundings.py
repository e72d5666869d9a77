"""The command line where things are missing: letters, a terminal, a reader, a place to write."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys

import pytest

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")


@pytest.fixture
def run(tmp_path):
    """``run("case", "list", LANG="C")``: a process of its own with a data folder of its own."""

    def start(*words: str, **surroundings: str | None):
        return subprocess.run(
            [sys.executable, "-m", "locum.cli", *words], capture_output=True, check=False,
            stdin=subprocess.DEVNULL, cwd=tmp_path, env=environment(tmp_path, surroundings),
        )  # fmt: skip

    return start


def environment(folder, changed) -> dict[str, str]:
    names = {**os.environ, "XDG_DATA_HOME": str(folder / "data"),
             "XDG_CONFIG_HOME": str(folder / "config"), **changed}  # fmt: skip
    return {k: v for k, v in names.items() if v is not None}


def quiet(ran) -> bool:
    return b"Traceback" not in ran.stderr + ran.stdout


def test_letters_that_the_terminal_has_not_are_replaced_and_json_is_whole(run):
    run("case", "new", "Lüfter läuft")
    ascii_only = {"PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    told = run("case", "list", **ascii_only)
    assert told.returncode == 0
    assert b"L?fter" in told.stdout
    document = run("case", "list", "--json", **ascii_only)
    assert json.loads(document.stdout)["cases"][0]["title"] == "Lüfter läuft"


def test_what_a_terminal_would_obey_is_not_printed(run):
    run("case", "new", "a\x1b]0;title\x07 b\nc")
    told = run("case", "list")
    assert b"\x1b" not in told.stdout
    assert b"\x07" not in told.stdout
    assert len(told.stdout.splitlines()) == 2


def test_nobody_at_home(run, tmp_path):
    gone = {"HOME": str(tmp_path / "none"), "XDG_DATA_HOME": None, "XDG_CONFIG_HOME": None}
    assert run("case", "list", **gone).returncode == 0
    assert run("verdict", "--before", "3/10h", "--after", "0/10h", TERM="dumb").returncode == 0


def told_to(stdout, folder, words, unbuffered):
    """The command with this output, each piece written at once or held back until the end."""
    return subprocess.run(
        [sys.executable, "-m", "locum.cli", *words], stdout=stdout, stderr=subprocess.PIPE,
        check=False, env=environment(folder, {"PYTHONUNBUFFERED": unbuffered}),
    )  # fmt: skip


@pytest.mark.parametrize("unbuffered", ["1", None])
@pytest.mark.parametrize("words", [("--help",), ("case", "list"), ("case", "list", "--json")])
def test_a_reader_that_leaves_early_is_no_trouble(run, tmp_path, words, unbuffered):
    run("case", "new", "one")
    read, write = os.pipe()
    os.close(read)
    ran = told_to(write, tmp_path, words, unbuffered)
    os.close(write)
    assert (ran.returncode, ran.stderr) == (0, b"")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="/dev/full is Linux's")
@pytest.mark.parametrize(
    ("words", "unbuffered"),
    [
        (("--help",), None),  # written at once, argparse passes over what cannot be written
        (("case", "list"), "1"),
        (("case", "list"), None),
        (("case", "list", "--json"), "1"),
        (("case", "list", "--json"), None),
    ],
)
def test_a_disk_that_is_full_is_told_where_the_output_goes(run, tmp_path, words, unbuffered):
    run("case", "new", "one")
    with open("/dev/full", "w") as full:
        ran = told_to(full, tmp_path, words, unbuffered)
    assert ran.returncode == 3
    assert ran.stderr.startswith(b"the output")
    assert b"No space left" in ran.stderr
    assert ran.stderr.count(b"\n") == 1


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="/dev/full is Linux's")
@pytest.mark.parametrize("unbuffered", ["1", None])
@pytest.mark.parametrize(("words", "code"), [(("bogus",), 2), (("case", "show", "none"), 1)])
def test_where_nothing_can_be_told_the_exit_code_still_tells_it(tmp_path, words, code, unbuffered):
    with open("/dev/full", "w") as full:
        ran = subprocess.run(
            [sys.executable, "-m", "locum.cli", *words], stdout=subprocess.PIPE, stderr=full,
            check=False, env=environment(tmp_path, {"PYTHONUNBUFFERED": unbuffered}),
        )  # fmt: skip
    assert ran.returncode == code


@pytest.mark.skipif(os.name != "posix", reason="a shell closes the streams")
@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("--help", 0),
        ("case list", 0),
        ("case list --json", 0),
        ("case show none --json", 1),
        ("bogus --json", 2),
        ("", 2),
        ("--plain", 0),  # where nobody can type, the input is at its end
    ],
)
@pytest.mark.parametrize("closed", ["<&- >&-", "<&- >&- 2>&-"])
def test_streams_that_are_closed_are_like_ones_that_nobody_reads(
    run, tmp_path, words, code, closed
):
    run("case", "new", "one")
    ran = subprocess.run(
        ["/bin/sh", "-c", f'exec "{sys.executable}" -m locum.cli {words} {closed}'],
        capture_output=True, check=False, env=environment(tmp_path, {}), timeout=60,
    )  # fmt: skip
    assert ran.returncode == code
    assert b"Traceback" not in ran.stderr
    assert b"fault of locum" not in ran.stderr


@pytest.mark.skipif(os.name != "posix", reason="file modes are those of POSIX")
def test_a_place_that_cannot_hold_a_casebook_is_exit_3_in_a_sentence(run, tmp_path):
    (tmp_path / "file").write_text("x")
    for place in (tmp_path / "file" / "book.sqlite", "/dev/null", tmp_path, tmp_path / "file"):
        ran = run("case", "new", "t", "--casebook", str(place))
        assert ran.returncode == 3, place
        assert str(place).encode() in ran.stderr
        assert quiet(ran)


def test_a_mistyped_path_begins_no_empty_casebook(run, tmp_path):
    for words, code in (
        (("case", "list"), 0), (("case", "find", "x"), 0), (("drive", "list"), 0),
        (("case", "show", "x"), 1), (("case", "close", "x"), 1),
        (("case", "backup", "--out", "b"), 3),
    ):  # fmt: skip
        ran = run(*words, "--casebook", "typo.sqlite")
        assert ran.returncode == code, words
        assert b"no file" in ran.stderr
    assert not (tmp_path / "typo.sqlite").exists()


@pytest.mark.parametrize(
    "name", ["with space", "-dash", "öl", "new\nline", "semi;colon&", "a" * 200]
)
def test_odd_names_of_files_work(run, tmp_path, name):
    book = f"--casebook={name}.sqlite"
    assert run("case", "new", "t", book).returncode == 0
    assert (tmp_path / f"{name}.sqlite").is_file()
    case = json.loads(run("case", "list", "--json", book).stdout)["cases"][0]["id"]
    sheet = tmp_path / f"{name}.csv"
    sheet.write_text("celsius,ohms\n0,5975\n40,1152\n80,308.6\n")
    assert run("case", "enclose", case, book, "--", f"./{name}.csv").returncode == 0
    assert run("sensor", "fit", f"./{name}.csv").returncode == 0
    out = run("case", "report", case, book, f"--out={name}.html")
    assert out.returncode == 0, out.stderr
    assert (tmp_path / f"{name}.html").is_file()


def test_a_word_that_is_no_command_gets_the_nearest_and_exit_2(run):
    ran = run("hodl", "82C")
    assert ran.returncode == 2
    assert b"Did you mean 'hold'?" in ran.stderr


@pytest.mark.skipif(os.name != "posix", reason="sends SIGINT")
def test_ctrl_c_in_a_recording_eases_back_and_keeps_it(tmp_path):
    with subprocess.Popen(
        [sys.executable, "-m", "locum.cli", "listen", *VAN, "--minutes", "60", "--speed", "30",
         "--board", "virtual", "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment(tmp_path, {}), cwd=tmp_path,
    ) as listening:  # fmt: skip
        book = tmp_path / "data" / "locum" / "casebook.sqlite"
        while listening.poll() is None and not _recorded(book):
            pass
        listening.send_signal(signal.SIGINT)
        out, err = listening.communicate(timeout=60)
    assert b"Traceback" not in err
    document = json.loads(out)
    assert document["ended"] == "stopped"
    assert 0 < document["seconds"] < 3000


def _recorded(book) -> bool:
    import sqlite3

    if not book.exists():
        return False
    try:
        with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as connection:
            return connection.execute("SELECT count(*) FROM block").fetchone()[0] > 3
    except sqlite3.Error:
        return False
