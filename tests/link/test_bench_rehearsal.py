"""The tests for real boards, rehearsed on a served virtual board: they run, and can be passed."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from locum.bodies.remote_engine import interpreter_path
from locum.errors import LinkTrouble

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")


def test_the_tests_for_real_boards_pass_on_a_served_board(tmp_path):
    try:
        interpreter_path("micropython")
    except LinkTrouble as trouble:
        pytest.skip(str(trouble))
    link = tmp_path / "board"
    serve = [
        "-c",
        "from locum.cli import main; raise SystemExit(main())",
        "serve",
        "--body",
        "virtual",
        "--pty",
        str(link),
    ]
    server = subprocess.Popen(
        [sys.executable, *serve, "--interpreter", "micropython"],
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    try:
        assert server.stderr is not None
        assert "serving virtual" in server.stderr.readline()
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "tests/hardware", "-q", "-p", "no:cacheprovider"],
            env={**os.environ, "LOCUM_BOARD": str(link), "CI": ""},
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, done.stdout
        assert " passed" in done.stdout or "...." in done.stdout
    finally:
        server.terminate()
        server.wait(10)
