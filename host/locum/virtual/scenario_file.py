"""Scenario files of the trial (TOML, schema 1): read, checked whole, unknown keys refused."""

from __future__ import annotations

from pathlib import Path


class Scenario:
    """A checked scenario: attributes named as the file's tables."""


def read_scenario(path: Path | str) -> Scenario:
    """Raises ``Refused`` with a remark for every fault of the file, ``FileTrouble`` if unreadable."""
    raise NotImplementedError
