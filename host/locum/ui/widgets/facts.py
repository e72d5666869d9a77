"""What stands on every screen, in words: connected, told, true, commanded, kick-outs, time, record, next.

A snapshot in, sentences out; nothing is drawn here. The glance, the line above every other place and
pictures all speak from this one table, so that they cannot contradict each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from locum.jobs.desk import Snapshot
from locum.jobs.glance import Glance
from locum.jobs.lines import Event
from locum.ui import words
from locum.ui.calibrate_text import left_text

MEANS = 54
"""Cells for what it means, beside what is connected, at 80 columns."""
BLIND = "OVERHEATING UNSEEN: watch true"
"""The module protects nothing by this sensor now; somebody has to."""
MAYBE_BLIND = "OVERHEATING MAY BE UNSEEN"
"""The same where nobody may know which is connected."""
APART_K = 0.3
"""Told and true closer than this are said to be the same. [K]"""
GLITCH_K = 10.0
"""While following, the truth further off than this has left for a glitch. [K]"""


@dataclass(frozen=True)
class Facts:
    """The glance in words; an empty string where there is nothing to say."""

    connected: str
    means: str
    """What that means for safety."""
    standing: bool
    """The stand-in is connected and may be said to be."""
    told: str
    true: str
    apart: str
    """How told and true lie to each other."""
    commanded: str
    kicks: str
    last: str
    """What happened last, whatever it was."""
    time: str
    record: str
    """How safe the record is."""
    kept: tuple[str, ...]
    """The same ever shorter, where something else must stand beside it."""
    next: str


def facts_of(snapshot: Snapshot, unit: str = "celsius") -> Facts:
    """The facts of one snapshot; temperatures in that unit."""
    glance = snapshot.glance
    if glance is None or snapshot.phase != "recording":
        return _without_a_board(snapshot)
    hidden = snapshot.hidden
    return Facts(
        connected="NOT SHOWN" if hidden else words.SOURCE[glance.source],
        means=_means(snapshot, glance),
        standing=glance.standing_in and not hidden,
        told="--" if hidden else words.degrees(glance.told_c, unit),
        true="--" if hidden else words.degrees(glance.true_c, unit),
        apart="" if hidden else _apart(glance, unit),
        commanded=glance.commanded or "no lines watched: what the module does is not seen",
        kicks=_kicks(glance),
        last=_last(snapshot, glance),
        time=_time(snapshot, glance),
        record=_record(snapshot, glance),
        kept=_kept(snapshot, glance),
        next=_next(snapshot, glance),
    )


def _without_a_board(snapshot: Snapshot) -> Facts:
    """Before the first look, after the end, or while the link is lost."""
    means = {
        "lost": "the board brings the real sensor back by itself",
        "failed": "the real sensor stays connected without a board",
        "closing": _left_with(snapshot),
        "ended": _left_with(snapshot),
    }.get(snapshot.phase, "")
    rest = {
        "opening": "wait a moment: the board is being opened",
        "lost": "plug the board in again, any port will do: it is looked for",
        "failed": "1 Prepare, row board: what is missing, how to find it",
        "closing": "wait a moment: the record is being finished",
        "ended": "q leaves; the record is safe",
        "closed": "wait a moment",
    }.get(snapshot.phase, "")
    glance = snapshot.glance
    kept = "what was recorded is safe" if glance is not None else "nothing recorded yet"
    record = kept if snapshot.phase in ("ended", "closing") else f"not recording; {kept}"
    return Facts(
        connected=words.PHASE.get(snapshot.phase, snapshot.phase).upper(),
        means=means, standing=False, told="--", true="--", apart="", commanded="--",
        kicks=_kicks(glance) if glance else "none yet",
        last=_last(snapshot, glance) if glance else "", time="", record=record,
        kept=(record.replace("what was recorded is", "record"), "not recording"),
        next=rest,
    )  # fmt: skip


def _left_with(snapshot: Snapshot) -> str:
    """What the board was left with when the recording ended."""
    if snapshot.glance is None:
        return ""
    if snapshot.glance.source == "real":
        return "safe: the REAL SENSOR is connected"
    return "the board brings the real sensor back by itself"


def _means(snapshot: Snapshot, glance: Glance) -> str:
    if snapshot.hidden:
        return f"unseen test till its end; {MAYBE_BLIND}"
    if glance.state == "tripped":
        return "safe: the board LET GO BY ITSELF"
    if not glance.standing_in:
        return "safe: " + words.SOURCE_MEANS["real"]
    blind = BLIND
    if glance.contact != "through":
        return f"{blind}; {words.CONTACT[glance.contact].upper()}"
    if glance.state == "returning":
        return f"{blind}; easing back"
    if glance.following and snapshot.doing in ("", "listen", "follow"):
        return "careful: follows the truth less glitches; watch true"
    if glance.following and snapshot.doing == "contact":
        return f"careful: follows; {snapshot.doing_words} given; watch true"
    if glance.following:
        return f"careful: {words.DOING.get(snapshot.doing, '')}; watch true"
    doing = words.DOING.get(snapshot.doing, "")
    for said in (f"{doing} {snapshot.doing_words}".strip(), doing):  # a replay's name may be long
        if said and len(blind) + 2 + len(said) <= MEANS:
            return f"{blind}; {said}"
    return blind


def _apart(glance: Glance, unit: str) -> str:
    if glance.told_c is None or glance.true_c is None or not glance.standing_in:
        return ""
    off_k = abs(glance.told_c - glance.true_c)
    if glance.following and glance.contact == "through" and not APART_K < off_k < GLITCH_K:
        return "told follows the truth"  # as far off as a glitch, it is left out
    if off_k < APART_K:
        return "told is near the truth"
    told, true = (
        float(words.degrees(c, unit).split()[0]) for c in (glance.told_c, glance.true_c)
    )  # of the values as shown: nobody can check another difference
    said = f"told {abs(told - true):.1f} {'above' if told > true else 'below'} the truth"
    return f"{said}, catching up" if glance.following else said


def _way_back(glance: Glance) -> str:
    seconds = glance.way_home_s
    return "a moment" if seconds is None else f"about {math.ceil(seconds)} s"


def _kicks(glance: Glance) -> str:
    if glance.kick_outs == 0:
        return "none yet"
    since = None if glance.last_kick_out_s is None else glance.t_s - glance.last_kick_out_s
    return f"{glance.kick_outs}, the last {words.ago(since)}"


def _last(snapshot: Snapshot, glance: Glance) -> str:
    event = newest_event(snapshot)
    if event is None:
        return "nothing yet"
    said = words.event_words(event.kind, event.words, event.detail)
    return f"{said}, {words.ago(max(glance.t_s - event.t_s, 0.0))}"


def newest_event(snapshot: Snapshot) -> Event | None:
    """The newest event of the running lines, if there is one."""
    for line in reversed(snapshot.lines):
        if line.events:
            return line.events[-1]
    return None


def _time(snapshot: Snapshot, glance: Glance) -> str:
    said = f"{words.clock(glance.t_s)} recorded, {glance.exposed_s / 60:.0f} min that count"
    if snapshot.hidden:
        return _time_of_test(snapshot, glance, said)
    if glance.standing_left_s < 0 or not glance.standing_in:
        return said
    left = glance.standing_left_s
    home = f"{left / 60:.0f} min" if left >= 90 else f"{left} s"
    whole = f"real sensor by itself in {home}; {said}"
    return whole if len(whole) <= 67 else whole.replace(" that count", " count")


def _time_of_test(snapshot: Snapshot, glance: Glance, said: str) -> str:
    """All stretches and boundaries take as long whatever is connected, so this tells nothing."""
    if snapshot.test_over_s is None:
        return said
    left = math.ceil(max(snapshot.test_over_s - glance.t_s, 0.0) / 60)
    whole = f"{snapshot.doing_words}, {left} min to go; {said}"
    return whole if len(whole) <= 67 else whole.replace(" that count", " count")


def _record(snapshot: Snapshot, glance: Glance) -> str:
    if glance.trouble:
        return f"NOT SAVED: {glance.unsaved}; kept in memory meanwhile"
    whence = " the VIRTUAL BOARD" if snapshot.virtual else ""
    lost = f"; {glance.lost} missing" if glance.lost else ""
    return f"recording{whence}, safe on disk {glance.saved_behind_s:.0f} s behind{lost}"


def _kept(snapshot: Snapshot, glance: Glance) -> tuple[str, ...]:
    if glance.trouble:
        return (f"NOT SAVED: {glance.unsaved}", "NOT SAVED")
    saved = f"saved {glance.saved_behind_s:.0f} s ago"
    whence = " VIRTUAL BOARD" if snapshot.virtual else ""
    return (f"recording{whence}, {saved}", f"recording, {saved}", "recording")


def _next(snapshot: Snapshot, glance: Glance) -> str:
    if snapshot.foot:  # a question has a row of its own; how to drive must not go for it
        return words.FOOT[snapshot.foot]
    if glance.trouble:
        return "free disk space, or close what holds the file: it is tried again"
    if snapshot.awaits_answer:
        return "say what it was: j foot, k brake, l road; no key if it was nothing"
    if snapshot.asks_felt:
        return "anything felt in the stretch that is over?  y something, n nothing"
    if snapshot.hidden:
        return "drive on; m marks what is felt"
    if glance.state == "returning":
        return f"{_way_back(glance)} until the top says REAL SENSOR; Space: at once"
    if glance.state == "tripped":
        cause = words.CAUSE_OF_TRIP.get(glance.cause, glance.cause)
        return f"{cause}: find out why"
    if snapshot.calibration is not None and snapshot.calibration.under_way:
        return f"calibrating: {left_text(snapshot.calibration.left_s)} left; Space stops it"
    if glance.standing_in:
        return "watch what is commanded; b eases back, Space: real sensor now"
    if not glance.commanded:
        return "1 Prepare: name the vehicle, so that its lines mean something"
    return "listen and drive; m: it was felt; Enter, a value: tell the module"
