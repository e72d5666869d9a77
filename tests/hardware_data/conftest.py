"""The hardware folder holds scripts, not a package: put it where they can be imported."""

import shutil
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "hardware"))


@pytest.fixture(scope="session")
def board():
    from circuit.reference import reference

    return reference()


@pytest.fixture(scope="session")
def starter_board():
    from circuit.starter import starter

    return starter()


@pytest.fixture
def ngspice():
    if shutil.which("ngspice") is None:
        pytest.skip("ngspice is not installed (apt install ngspice)")
