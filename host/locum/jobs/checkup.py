"""Checkup: is everything here that a drive needs, and if not, what exactly to do about it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Check:
    """One thing looked at."""

    name: str
    passed: bool
    detail: str
    """What was found; when it did not pass, what to do, as a command where there is one."""


@dataclass(frozen=True)
class Checkup:
    """All checks, in the order a person would mend them."""

    checks: tuple[Check, ...]
    bundle: str | None = None
    """Absolute path of the packed log and checks, without anybody's identity."""

    @property
    def passed(self) -> bool:
        return all(check.passed for check in self.checks)
