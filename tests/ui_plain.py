"""A sitting line by line, in a process of its own and a terminal that can do nothing."""

from __future__ import annotations

import os
import subprocess
import sys


def opened(tmp_path, *options: str, speed: str = "20") -> subprocess.Popen:
    """A sitting in a process of its own, in a terminal that can do nothing."""
    surroundings = {**os.environ, "TERM": "dumb", "XDG_DATA_HOME": str(tmp_path / "data"),
                    "XDG_CONFIG_HOME": str(tmp_path / "config")}  # fmt: skip
    return subprocess.Popen(
        [sys.executable, "-m", "locum.cli", "--plain", "--board", "virtual", "--speed", speed, *options],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env=surroundings,
    )  # fmt: skip


def told_of(tmp_path, script: str, *options: str) -> str:
    sitting = opened(tmp_path, *options)
    told, _ = sitting.communicate(script, timeout=60)
    assert sitting.returncode == 0, told
    return told
