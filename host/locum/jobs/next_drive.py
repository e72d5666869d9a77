"""Starting the drive that would tell most: the kind of recording, and what it begins with."""

from __future__ import annotations

from dataclasses import replace

from locum.jobs.desk import Asked
from locum.jobs.desk_facts import Setup
from locum.jobs.evidence_view import EvidenceView

KINDS = {
    "listen outputs": ("listen", None),
    "listen": ("listen", None),
    "provoke": ("provoke", Asked("glitch", (), "glitches with blanks between")),
    "swap": ("swap", Asked("swap", (), "")),
    "follow": ("follow", Asked("follow", (), "")),
    "reverse": ("reverse", None),
    "quiet": ("quiet", None),
}
"""Kind of advice -> kind of recording, and the act it begins with."""


def starts(view: EvidenceView) -> bool:
    """Whether what comes next is a drive that one key can begin."""
    return view.next_kind in KINDS


def begun(view: EvidenceView, setup: Setup) -> tuple[Setup | None, Asked | None, str]:
    """(setup of the new recording, its first act, what to tell); no setup where nothing is to be
    driven: a bench check, a repair, or nothing more."""
    kind, act = KINDS.get(view.next_kind, (None, None))
    if kind is None:
        return None, None, view.next_words
    return replace(setup, kind=kind, case=view.case_id), act, view.next_words
