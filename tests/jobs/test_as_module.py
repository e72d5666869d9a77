"""``python -m locum`` is the same program as the installed script."""

import subprocess
import sys

from locum import __version__


def run(*words):
    return subprocess.run(
        [sys.executable, "-m", "locum", *words],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )


def test_it_says_its_version():
    done = run("--version")
    assert (done.returncode, done.stdout.strip()) == (0, f"locum {__version__}")


def test_it_hands_on_the_exit_code_and_names_itself_locum():
    done = run("hold")
    assert done.returncode == 2
    assert "locum hold" in done.stderr
    assert "__main__" not in done.stderr
    assert "Traceback" not in done.stderr
