"""``locum firmware put`` killed between any two of its steps, and power lost within the switch.

The program that puts runs as a process of its own and is ended by SIGKILL, so that nothing of it can
tidy up. Whatever ``active.txt`` names afterwards must be whole: the version before, or the new one.
"""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

from link.test_upload import MICROPYTHON, ROOT, Board, needs_micropython
from locum.errors import LinkTrouble
from locum.link.manifest import build_manifest

TESTS = Path(__file__).parents[1]
BEFORE = "v-before00"
OLD_FILE = "drivers/start.py"
STEPS_TO_RESET = 6
"""Look, make folders, files, starter, hashes, switch; then the board is started anew."""
CHILD = """
import sys
from link.test_upload import Board
class Slow(Board):
    def mpremote(self, arguments):
        what = arguments[2]
        program = arguments[3] if what == "exec" else ""
        print(what, program.strip().splitlines()[0] if program else "", flush=True)
        sys.stdin.readline()
        self.answers = what == "reset"
        return super().mpremote(arguments)
board = Slow(__import__("pathlib").Path(sys.argv[1]))
board.answers = False  # it sits at its prompt, as the time before left it
board.put()
print("put", flush=True)
"""
"""Says each step before it is taken, and waits to be told to go on."""


@pytest.fixture
def folder(tmp_path):
    """A board's file system with a version that is at work."""
    (tmp_path / BEFORE / "drivers").mkdir(parents=True)
    (tmp_path / BEFORE / OLD_FILE).write_text("before")
    (tmp_path / "active.txt").write_text(BEFORE)
    (tmp_path / "main.py").write_text("# the starter of before")
    return tmp_path


def starts(folder):
    """The version that ``active.txt`` names, which is whole."""
    active = (folder / "active.txt").read_text().strip()
    if active == BEFORE:
        assert (folder / BEFORE / OLD_FILE).read_text() == "before"
        return "before"
    manifest, starter = build_manifest(ROOT)
    assert active == manifest.version
    for file in manifest.files:
        copied = (folder / active / file.name).read_bytes()
        assert hashlib.sha256(copied).hexdigest() == file.sha256, file.name
    assert hashlib.sha256((folder / "main.py").read_bytes()).hexdigest() == starter.sha256
    assert (folder / "previous.txt").read_text().strip() == BEFORE
    assert (folder / BEFORE / OLD_FILE).read_text() == "before"
    return "new"


def killed_before(folder, step):
    """Put the firmware in a process that is killed before its step of this number; steps it named."""
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(TESTS)}, cwd=TESTS,
    )  # fmt: skip
    assert child.stdin
    assert child.stdout
    named = []
    with child:
        for line in child.stdout:
            named.append(line.strip())
            if len(named) > step or line.startswith("put"):
                break
            child.stdin.write("\n")
            child.stdin.flush()
        child.kill()
    return named


@needs_micropython
@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
def test_killed_before_any_step_the_board_starts_a_whole_version(folder):
    """Each time on the board as the time before left it, as somebody who tries again and again."""
    outcomes, named, step = [], [], 0
    while not named or named[-1] != "put":
        named = killed_before(folder, step)
        outcomes.append(starts(folder))
        step += 1
        assert step < 20
    assert len(named) >= 6
    assert outcomes[0] == "before"
    assert outcomes[-1] == "new"
    assert outcomes == sorted(outcomes, key=["before", "new"].index)


@needs_micropython
@pytest.mark.parametrize("renames", range(4))
def test_power_lost_at_any_rename_of_the_switch_leaves_a_whole_version(folder, renames):
    board = Board(folder)
    plain = board._exec

    def dying(program):
        if "'main.py')" in program:
            program = program.replace("os.rename(", "_rename(")
            program = (
                f"_left = [{renames}]\nimport os\ndef _rename(a, b):\n"
                "    if not _left[0]: raise SystemExit(1)\n"
                "    _left[0] -= 1\n    os.rename(a, b)\n" + program
            )
        return plain(program)

    board._exec = dying
    if renames < 3:
        with pytest.raises(LinkTrouble):
            board.put()
        assert starts(folder) == "before"
        board._exec = plain
    board.put()
    assert starts(folder) == "new"


@needs_micropython
def test_a_version_that_never_answered_is_no_reason_to_drop_the_one_before_it(folder):
    """Killed after the switch, tried again, and the new one does not answer: the old one is back."""
    assert killed_before(folder, STEPS_TO_RESET)[-1].startswith("reset")
    assert starts(folder) == "new"
    board = Board(folder)
    board.answers = False
    with pytest.raises(LinkTrouble, match=f"switched back to {BEFORE}"):
        board.put()
    assert starts(folder) == "before"


@needs_micropython
def test_the_version_that_runs_is_not_written_again_over_itself(folder):
    """A cable pulled while the same version is put once more must not hurt the files at work."""
    board = Board(folder)
    version = board.put().version

    def stamps():
        files = (path for path in (folder / version).rglob("*") if path.is_file())
        return {path: path.stat().st_mtime_ns for path in files}

    before = stamps()
    board.cut_after = 0
    with pytest.raises(LinkTrouble):
        board.put()
    assert len(before) > 20
    assert stamps() == before
    assert board.put().unchanged
    assert stamps() == before


def test_the_interpreter_is_there_in_ci():
    assert MICROPYTHON or not os.environ.get("CI")
