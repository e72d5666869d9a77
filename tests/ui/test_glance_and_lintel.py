"""The glance: six things in words, large where there is room, the same on every place, never cut."""

from __future__ import annotations

import itertools
import time
from dataclasses import replace

import pytest
from textual.app import App

from locum.jobs.desk_facts import Setup, Snapshot
from locum.jobs.glance import Glance
from locum.jobs.lines import Event, Line
from locum.ui import words
from locum.ui.asking import elsewhere_text
from locum.ui.looks.glyphs import ASCII, HALF
from locum.ui.widgets.facts import facts_of
from locum.ui.widgets.glance import Glimpse, large_lines, small_lines
from locum.ui.widgets.hanging import hung
from locum.ui.widgets.keys import Key, fitted, key_at
from locum.ui.widgets.lintel import rows as lintel_rows
from locum_board import states
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(90)

GLANCE = Glance(
    t_s=754.0, state="rest", source="real", following=False, contact="through", cause="",
    told_ohm=420.0, told_c=70.0, true_ohm=420.0, true_c=70.0, node_v=1.5,
    commanded="top gear, clutch locked", held=True, kick_outs=2, last_kick_out_s=714.0, releases=5,
    glitches=2, last_glitch_s=713.0, exposed_s=600.0, standing_left_s=-1, step=0, steps=0,
    saved_behind_s=0.3, lost=0, trouble="", host_present=True, supply="host",
)  # fmt: skip
AWAY = replace(GLANCE, state="holding", source="stand_in", told_c=82.0, standing_left_s=1260)


def snapshot(glance=GLANCE, **changes) -> Snapshot:
    line = Line(710.0, "real", False, 70.0, 70.0, "", True, (Event(709.0, "mark", "key"),))
    return Snapshot(Setup(), phase="recording", doing="listen", glance=glance, lines=(line,), **changes)  # fmt: skip


def text(lines) -> list[str]:
    return ["".join(piece for piece, _ in line).rstrip() for line in lines]


def test_what_must_never_be_misread():
    said = text(small_lines(facts_of(snapshot())))
    assert said[0].split()[:3] == ["connected", "REAL", "SENSOR"]
    assert "safe" in said[0]
    away = facts_of(snapshot(AWAY, virtual=True))
    said = text(small_lines(away))
    assert said[0].split()[:2] == ["connected", "STAND-IN"]
    assert "OVERHEATING UNSEEN" in said[0]
    assert "told       82.0 C" in said[1]
    assert "true 70.0 C" in said[1]
    assert "12.0 above" in said[1]
    assert "top gear, clutch locked" in said[2]
    assert "2, the last 40 s ago" in said[3]
    assert "marked: felt, 45 s ago" in said[4]
    assert "real sensor by itself in 21 min" in said[5]
    assert "VIRTUAL BOARD" in said[6]
    assert "0 s behind" in said[6]
    assert "Space" in said[7]


def test_a_record_that_waits_says_so_before_anything_else_on_its_row():
    full = replace(
        GLANCE, trouble="book: wanted to write it, found x", unsaved="no space left on the disk"
    )
    said = facts_of(snapshot(full))
    assert said.record == "NOT SAVED: no space left on the disk; kept in memory meanwhile"
    assert "free disk space" in said.next
    assert max(map(len, (said.record, said.next))) <= 67, "nothing of it is cut at 80 columns"
    assert lintel_rows(said)[1].startswith("NOT SAVED: no space left on the disk")
    assert elsewhere_text(snapshot(full), said.next) == f"NEXT: {said.next}"


def test_degrees_fahrenheit_also_for_what_lies_between():
    said = facts_of(snapshot(AWAY), "fahrenheit")
    assert (said.told, said.true) == ("179.6 F", "158.0 F")
    assert "21.6 above" in said.apart


def every_snapshot():
    """All that a screen may have to tell, crossed where it matters."""
    sources, contacts = ("real", "stand_in", "moving"), ("through", "open", "short")
    long = replace(AWAY, t_s=36_754.0, exposed_s=36_000.0, standing_left_s=14_400, kick_outs=123)
    for state, source, contact in itertools.product(states.STATE_NAMES, sources, contacts):
        for doing in words.DOING:
            glance = replace(long, state=state, source=source, contact=contact)
            yield (
                snapshot(glance, doing_words="82C")
                if not doing
                else replace(snapshot(glance), doing=doing, doing_words="82C")
            )
    for cause in words.CAUSE_OF_TRIP:
        yield snapshot(replace(GLANCE, state="tripped", cause=cause))
    for changes in (
        {"awaits_answer": True}, {"asks_felt": "real"}, {"foot": "still"}, {"hidden": True},
    ):  # fmt: skip
        yield snapshot(AWAY, **changes)
    yield replace(
        snapshot(long, hidden=True, test_over_s=long.t_s + 43_000), doing="swap",
        doing_words="stretch 12 of 72",
    )  # fmt: skip
    for phase in words.PHASE:
        yield replace(snapshot(), phase=phase)
        yield Snapshot(Setup(), phase=phase)
    yield snapshot(replace(GLANCE, told_c=None, true_c=None, commanded=""))
    yield snapshot(replace(AWAY, following=True))


@pytest.mark.parametrize("unit", ["celsius", "fahrenheit"])
def test_nothing_the_glance_can_say_is_cut_at_80_columns(unit):
    for one in every_snapshot():
        facts = facts_of(one, unit)
        for line in text(small_lines(facts)):
            assert len(line) <= 78, (line, len(line))
        assert len(text(small_lines(facts))) == 8
        for glyphs, rows in ((HALF, 14), (ASCII, 18)):
            large = text(large_lines(facts, glyphs, 118))
            assert len(large) == rows
            assert all(len(line) <= 118 for line in large)
            assert facts.connected in large[0]
        assert all(len(line) <= 78 for line in lintel_rows(facts)), lintel_rows(facts)


def test_no_code_word_in_anything_the_glance_can_say():
    for one in every_snapshot():
        for line in text(small_lines(facts_of(one))):
            assert "_" not in line
            assert "None" not in line
            assert "nan" not in line.split()


def test_while_an_unseen_test_runs_glance_and_lintel_tell_nothing_apart():
    real, away = (
        facts_of(replace(snapshot(glance, hidden=True), doing="swap", lines=()))
        for glance in (GLANCE, replace(AWAY, following=True))
    )
    assert real == away
    assert lintel_rows(real) == lintel_rows(away)


def test_an_unseen_test_says_how_long_it_still_takes():
    running = replace(snapshot(GLANCE, hidden=True), doing="swap", doing_words="stretch 2 of 4")
    for left_s, said in ((1234.0, "21 min to go"), (60.0, "1 min to go"), (-5.0, "0 min to go")):
        facts = facts_of(replace(running, test_over_s=GLANCE.t_s + left_s))
        assert facts.time.startswith(f"stretch 2 of 4, {said}; ")
        assert facts.time in "\n".join(text(small_lines(facts)))


def test_the_lintel_says_what_is_connected_whether_it_records_and_what_was_last():
    first, second = lintel_rows(facts_of(snapshot(AWAY)))
    assert first == "STAND-IN: told 82.0 C, true 70.0 C; OVERHEATING UNSEEN: watch true"
    assert "recording" in second
    assert "last: marked: felt" in second, "also at 80 columns"
    wide = lintel_rows(facts_of(snapshot(AWAY)), 118)[1]
    assert "safe on disk" in wide
    assert "kick-outs: 2" in wide


@pytest.mark.parametrize("kind", ["glitch", "injected", "kick_out", "release", "mark", "connected"])
def test_the_lintel_says_what_was_last_whatever_it_was_and_cuts_nothing(kind):
    event = Event(95.0, kind, {"glitch": "cold", "injected": "cold", "mark": "felt"}.get(kind, "stand-in"),
                  {"release": "changeover"}.get(kind, "1000 ms, 40 K"))  # fmt: skip
    line = replace(snapshot(AWAY).lines[-1], events=(event,))
    facts = facts_of(replace(snapshot(AWAY), lines=(line,)))
    for width in (78, 118):
        second = lintel_rows(facts, width)[1]
        assert len(second) <= width
        assert facts.last in second


class Alone(App):
    def compose(self):
        yield Glimpse(id="glimpse")


@pytest.mark.parametrize(("size", "high"), [((80, 24), 8), ((120, 40), 14), ((120, 30), 8)])
async def test_large_where_there_is_room_and_only_changed_rows_are_drawn_again(
    size, high, monkeypatch
):
    monkeypatch.setenv("LANG", "C.UTF-8")
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("LC_ALL", raising=False)
    async with Alone().run_test(size=size) as pilot:
        glimpse = pilot.app.query_one(Glimpse)
        glimpse.show(snapshot())
        await pilot.pause(0.1)
        assert glimpse.get_content_height(pilot.app.size, pilot.app.size, size[0]) == high
        assert "REAL SENSOR" in screen_text(pilot.app)
        drawn: list = []
        monkeypatch.setattr(glimpse, "refresh", lambda *regions, **_: drawn.extend(regions))
        glimpse.show(snapshot())
        assert drawn == []
        glimpse.show(snapshot(replace(GLANCE, kick_outs=3)))
        assert len(drawn) == 1
        assert drawn[0].height == 1


# -- keys and mouse ------------------------------------------------------------------------------


def test_keys_that_find_no_room_are_left_out_whole_and_the_first_and_last_are_kept():
    keys = [Key("space", "REAL SENSOR NOW"), Key("question_mark", "explain"), Key("q", "leave"),
            *(Key(c, "something rather long") for c in "abcdefgh")]  # fmt: skip
    for cells in range(44, 200):
        kept = fitted(keys, cells)
        assert sum(k.cells for k in kept) + 2 * (len(kept) - 1) <= cells
        assert kept[0].key == "space"
        assert {"question_mark", "q"} <= {k.key for k in kept}


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_lowest_row_is_whole_on_every_place(desk_app, size):
    async with desk_app(size) as (app, pilot):
        for key in "2134g":
            await pilot.press(key)
            await pilot.pause(0.2)
            lowest = screen_text(app).split("\n")[size[1] - 1]
            if key == "g":  # a line is being typed
                assert "REAL SENSOR NOW" in lowest
                continue
            assert lowest.startswith(" Space REAL SENSOR NOW")
            assert lowest.endswith("? explain  q leave")
            assert "q leave" in lowest


def test_words_that_begin_with_a_key_can_be_clicked_anywhere_on_them():
    line = "KICK-OUT   what was it?   j foot   k brake   l road   none of these: no key"
    at = line.index
    assert key_at(line, at("foot")) == "j"
    assert key_at(line, at("k brake")) == "k"
    assert key_at(line, at("road") + 3) == "l"
    assert key_at(line, at("what")) is None
    assert key_at(line, at("foot") + 5) is None
    title = "Drive   then: 3 Evidence   ? explains"
    assert key_at(title, title.index("Evidence")) == "3"
    assert key_at(title, title.index("explains")) == "?"
    assert key_at(title, 1) is None
    assert key_at(title, 500) is None


async def test_everything_shown_works_with_a_mouse_alone(desk_app):
    async with desk_app((80, 24)) as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in")
        onward = screen_text(app).index("3 Evidence")
        await pilot.click("#place-title", offset=(onward, 0))
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Evidence"))
        onward = screen_text(app).index("4 Cases")
        await pilot.click("#place-title", offset=(onward, 0))
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Cases"))
        lowest = screen_text(app).split("\n")[23]
        await pilot.click("Keys", offset=(lowest.index("? explain") - 1, 0))
        await until(pilot, lambda: "Everywhere" in screen_text(app))
        await pilot.press("escape")
        await pilot.click("Keys", offset=(3, 0))
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 5)


def test_rows_that_go_on_below_keep_their_columns():
    row = "not reached necessary   " + "many words " * 12
    broken = hung(row.rstrip(), 80).split("\n")
    assert all(len(part) <= 80 for part in broken)
    assert all(part.startswith(" " * 24) and part[24] != " " for part in broken[1:])
    assert " ".join(" ".join(broken).split()) == " ".join(row.split())
    fix = " " * 22 + "? shows them whole"
    assert hung(f"{row.rstrip()}\n{fix}", 80).split("\n")[-1] == fix, "each row by itself"
    assert hung("short", 80) == "short"


# -- the record ----------------------------------------------------------------------------------


async def test_the_record_never_waits_for_the_screen(desk_app):
    async with desk_app((80, 24), speed=20.0) as (app, pilot):
        desk = app.desk
        before = desk.told.glance
        end_s = time.monotonic() + 20
        # The screens' own loop does not run in here: nothing is drawn, nothing is looked at.
        while desk.told.glance.t_s < before.t_s + 8.0 and time.monotonic() < end_s:
            pass
        after = desk.told.glance
        assert after.t_s >= before.t_s + 8.0
        assert after.saved_behind_s < 1.0
        assert after.lost == before.lost
