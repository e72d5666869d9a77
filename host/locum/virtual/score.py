"""Scores a conclusion against the secret."""

from __future__ import annotations

from .case import Case

OUTCOMES = ("right", "undecided", "blamed_wrongly", "wrongly_cleared")


def outcome(scenario, case: Case, conclusion: str) -> str:
    """One of ``OUTCOMES`` for a conclusion of TRIAL's list."""
    raise NotImplementedError
