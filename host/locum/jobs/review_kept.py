"""What is kept of a review beside its recording."""

from __future__ import annotations

from typing import Any

from locum import __version__
from locum.review.findings import Findings

REVIEW_VERSION = f"locum {__version__}"
"""Kept beside every result of review; a later version adds its own and the older stays."""


def stored_review(found: Findings, case_rule: dict[str, Any] | None = None) -> dict:
    """What is kept of a review: facts, and the temperature thinned to one value in ten seconds.

    ``case_rule``: what the case said of time that counts when it was reviewed.
    """
    track = found.temperature[::10]
    body = found.as_dict()
    body["temperature"] = {"t_ms": track["t_ms"].tolist(), "milliohm": track["milliohm"].tolist()}
    body["case_rule"] = case_rule or {}
    return body
