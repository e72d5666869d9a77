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


def elsewhere_text(snapshot: Snapshot, next_words: str) -> str:
    """The same over every place but Drive, which alone takes ``y`` and ``n``; else what presses."""
    asked = asking_text(snapshot)
    if snapshot.asks_felt and not snapshot.awaits_answer:
        asked = asked.replace("y something   n nothing", "2 Drive: y yes, n no")
    foot = words.FOOT.get(snapshot.foot, "")
    if asked != foot:  # how to drive must not go for a question
        return "\n".join(part for part in (asked, foot) if part)
    glance = snapshot.glance
    urgent = glance is not None and (glance.state == "tripped" or glance.trouble)
    pressing = snapshot.phase in ("lost", "failed") or (snapshot.phase == "recording" and urgent)
    return asked or (f"NEXT: {next_words}" if pressing else "")


def offers_text(snapshot: Snapshot, unit: str) -> str:
    """What could be told to the module now, each with its key."""
    told = [
        f"{OFFER_KEYS[o.name]} hold {words.degrees(o.celsius, unit, 0)} {o.why}"
        for o in snapshot.offers
    ]
    rows = ["   ".join(told)] if told else []
    if snapshot.captured:
        rows.append(f"x give {snapshot.captured}, blanks between")
    return "\n".join(rows)
