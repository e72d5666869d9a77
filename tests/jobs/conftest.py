"""Running the command line in this process: exit code, JSON document, talk."""

from __future__ import annotations

import json
from dataclasses import dataclass

import pytest

from locum import cli


@dataclass
class Ran:
    code: int
    json: dict
    talk: str


@pytest.fixture
def locum(capsys, tmp_path):
    """``locum("hold", "82C")`` with --json; a casebook of its own is given where one makes sense."""

    def run(*arguments: str) -> Ran:
        capsys.readouterr()
        code = cli.main([*arguments, "--json"])
        out, err = capsys.readouterr()
        lines = out.strip().splitlines()
        assert len(lines) <= 1, f"more than one document on stdout: {out}"
        return Ran(code, json.loads(lines[0]) if lines else {}, err)

    return run


@pytest.fixture
def book(tmp_path):
    return str(tmp_path / "casebook.sqlite")
