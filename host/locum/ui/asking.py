"""The one question that is open, and the values offered: in words, with their keys."""

from __future__ import annotations

from locum.jobs.desk_facts import Snapshot
from locum.ui import words

KICKED = "KICK-OUT   what was it?   j foot   k brake   l road   none of these: no key"
OFFER_KEYS = {"cold": "c", "warm": "w", "threshold": "t"}


def asking_text(snapshot: Snapshot) -> str:
    """A kick-out first, then the stretch that ended, then how the foot is to be held."""
    if snapshot.awaits_answer:
        return KICKED
    if snapshot.asks_felt:
        what = words.STRETCH.get(snapshot.asks_felt, "That stretch")
        return f"{what}: anything felt?   y something   n nothing"
    if snapshot.foot:
        return words.FOOT[snapshot.foot]
    return ""


def offers_text(snapshot: Snapshot, unit: str) -> str:
    """What could be told to the module now, each with its key."""
    told = [
        f"{OFFER_KEYS[o.name]} hold {words.degrees(o.celsius, unit, 0)} {o.why}"
        for o in snapshot.offers
    ]
    return "   ".join(told) if told else ""
