"""What --plain tells by itself: nothing that happened is passed over, however much came at once."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

from locum.jobs.desk_facts import Outcome, Setup, Snapshot
from locum.jobs.lines import Event, Line
from locum.ui.plain_telling import Telling


def line(t_s: float, *events: Event) -> Line:
    return Line(t_s, "real", False, 80.0, 80.0, "top gear", True, events)


def test_a_kick_out_is_told_though_later_lines_came_before_the_next_look():
    said: list[str] = []
    kick = Event(3.0, "kick_out", "top gear", "")
    early = (line(0.0), line(2.0))
    shown = SimpleNamespace(now=Snapshot(Setup(), phase="recording", lines=early[:1]))
    telling = Telling(SimpleNamespace(snapshot=lambda: shown.now), "C", said.append)
    telling.look()
    shown.now = replace(shown.now, lines=(*early, line(4.0, kick), line(6.0), line(8.0)))
    telling.look()
    assert sum("KICK-OUT" in text for text in said) == 1, said
    telling.look()
    assert sum("KICK-OUT" in text for text in said) == 1, "once"


def test_a_new_recording_is_told_from_its_beginning():
    said: list[str] = []
    felt = Event(0.5, "mark", "felt")
    shown = SimpleNamespace(now=Snapshot(Setup(), phase="recording", lines=(line(600.0),)))
    telling = Telling(SimpleNamespace(snapshot=lambda: shown.now), "C", said.append)
    telling.look()
    shown.now = replace(shown.now, lines=(line(1.0, felt), line(3.0)))
    telling.look()
    assert any("marked something was felt" in text for text in said), said


def test_both_of_two_outcomes_are_told_that_came_between_two_looks():
    said: list[str] = []
    begun = Outcome("hold 82C", "begun", 3.0)
    shown = SimpleNamespace(now=Snapshot(Setup(), phase="recording", outcomes=(begun,)))
    telling = Telling(SimpleNamespace(snapshot=lambda: shown.now), "C", said.append)
    later = (Outcome("hold 82C", "ended", 9.0), Outcome("follow", "begun", 9.2))
    shown.now = replace(shown.now, outcomes=(begun, *later))
    telling.look()
    assert [text for text in said if "hold 82C" in text] == ["hold 82C: ended by key at 00:09"]
    assert sum(text.startswith("follow: ") for text in said) == 1, said
    telling.look()
    assert sum("follow" in text or "hold" in text for text in said) == 2, "once each"


def test_a_refusal_that_leaves_the_stand_in_says_so():
    said: list[str] = []
    shown = SimpleNamespace(now=Snapshot(Setup(), phase="recording"))
    telling = Telling(SimpleNamespace(snapshot=lambda: shown.now), "C", said.append)
    kept = Outcome("replay x", "kept", 4.0, "no profile of this name")
    shown.now = replace(shown.now, outcomes=(kept,))
    telling.look()
    assert said == ["replay x: REFUSED, nothing changed: the STAND-IN stays as it was."]
