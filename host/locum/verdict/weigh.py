"""``weigh``: from the evidence of a case to a verdict."""

from __future__ import annotations

from locum.verdict.evidence import Evidence
from locum.verdict.finding import Verdict


def weigh(evidence: Evidence) -> Verdict:
    """Weigh all drives of a case; the words come from the highest step reached."""
    raise NotImplementedError
