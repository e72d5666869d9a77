"""The running lines: what each row says, where the marks stand, and what taking in a line costs."""

from __future__ import annotations

from textual.app import App

from locum.jobs.lines import Event, Line
from locum.ui.widgets import river as river_module
from locum.ui.widgets.river import River
from locum.ui.widgets.running import (
    Column,
    arrow,
    column_over,
    marks,
    plain_line,
    put_in,
    row_text,
    rows_of,
    when,
)

LOCKED = "top gear, clutch locked"
COLUMN = Column(60.0, 80.0, 21)


def line(t_s=10.0, source="real", told=70.0, true=70.0, commanded=LOCKED, events=()):
    return Line(t_s, source, False, told, true, commanded, commanded == LOCKED, tuple(events))


def test_marks_stand_at_their_temperature_and_told_only_while_standing_in():
    assert marks(line(), COLUMN).index("o") == 10
    assert "+" not in marks(line(told=75.0), COLUMN)
    away = marks(line(source="stand_in", told=75.0), COLUMN)
    assert (away.index("o"), away.index("+")) == (10, 15)
    assert marks(line(source="stand_in"), COLUMN).strip() == "*"


def test_ends_hold_everything_and_seldom_move():
    warm = [line(true=t, told=t) for t in (61.2, 68.0)]
    column = column_over(warm, 17)
    assert (column.low_c, column.high_c) == (60.0, 70.0)
    again = column_over([*warm, line(true=66.0, told=66.0)], 17)
    assert again == column
    assert column_over([line(true=None, told=None)], 17).cells == 17
    beyond = marks(line(true=200.0), COLUMN)
    assert beyond.rstrip()[-1] == "o"
    assert len(beyond) == COLUMN.cells


def test_a_state_is_said_when_it_changes_and_carried_on_by_a_stroke():
    first, second = line(10.0), line(12.0)
    third = line(14.0, commanded="top gear, clutch released")
    rows = [*rows_of(first, None), *rows_of(second, first), *rows_of(third, second)]
    said = [row_text(row, "celsius", COLUMN) for row in rows]
    assert said[0].endswith(LOCKED)
    assert said[1].endswith("  |")
    assert said[2].endswith("clutch released")
    assert row_text(rows[1], "celsius", COLUMN, first=True).endswith(LOCKED)


def test_what_happened_has_a_row_and_a_time_of_its_own_before_its_line():
    kick = Event(9.4, "kick_out", LOCKED)
    glitch = Event(9.1, "glitch", "cold", "180 ms, 34 K")
    rows = rows_of(line(events=(glitch, kick)), None)
    said = [row_text(row, "celsius", COLUMN) for row in rows]
    assert [row.event for row in rows] == [glitch, kick, None]
    assert said[0].split() == ["00:09.1", "glitch", "<-----", "towards", "cold,", "180", "ms,", "34", "K"]  # fmt: skip
    assert "KICK-OUT" in said[1]
    assert LOCKED in said[1]
    narrow = Column(60.0, 80.0, river_module.NARROW)
    assert all(len(row_text(row, "celsius", narrow)) <= 78 for row in rows)


def test_what_became_certain_only_later_goes_up_to_where_it_happened():
    rows = []
    for one in (
        line(10.0),
        line(12.0),
        line(14.0, events=(Event(11.0, "glitch", "cold", "180 ms"),)),
    ):
        for row in rows_of(one, None):
            put_in(rows, row)
    assert [when(row) for row in rows] == [10.0, 11.0, 12.0, 14.0]


def test_an_arrow_leaves_the_truth_towards_cold_or_hot_and_stays_in_the_column():
    for true in (40.0, 60.0, 70.0, 80.0, 120.0):
        cold = arrow(Event(1.0, "glitch", "open"), line(true=true), COLUMN)
        hot = arrow(Event(1.0, "glitch", "hot"), line(true=true), COLUMN)
        assert cold.strip() == "<-----"
        assert hot.strip() == "----->"
        assert len(cold) == len(hot) == COLUMN.cells


def test_while_an_unseen_test_runs_no_row_tells_which_is_connected():
    rows = [rows_of(line(source=s, told=t), None)[0] for s, t in (("real", 70.0), ("stand_in", 82.0))]  # fmt: skip
    real, away = (row_text(row, "celsius", COLUMN, hidden=True) for row in rows)
    assert real == away
    assert plain_line(rows[0].line, "celsius", hidden=True) == plain_line(rows[1].line, "celsius", hidden=True)  # fmt: skip


def test_a_plain_line_says_the_same_in_one_line_and_what_happened_first():
    said = plain_line(line(source="stand_in", told=82.0, events=(Event(9.4, "kick_out", LOCKED),)), "fahrenheit")  # fmt: skip
    assert said == ("00:10  KICK-OUT top gear, clutch locked: lost, and no cause seen; STAND-IN, "
                    "told 179.6 F, true 158.0 F; top gear, clutch locked")  # fmt: skip
    assert (
        plain_line(line(true=None), "celsius") == "00:10  REAL SENSOR, true not measured; " + LOCKED
    )


class Alone(App):
    """Nothing but a river."""

    def compose(self):
        yield River(id="river")


def drawn(app) -> list[str]:
    strips = app.screen._compositor.render_strips()
    return ["".join(s.text for s in strip).rstrip() for strip in strips]


async def test_lines_known_already_are_not_taken_in_again_and_another_recording_clears():
    lines = [line(2.0 * n) for n in range(5000)]
    async with Alone().run_test(size=(80, 24)) as pilot:
        river = pilot.app.query_one(River)
        river.lines = tuple(lines)
        before = len(river._rows)
        river.lines = tuple(lines[-400:])
        river.lines = (*lines[-399:], line(10_000.0, events=(Event(9999.0, "mark", "key"),)))
        assert len(river._rows) == before + 2
        await pilot.pause(0.1)
        assert drawn(pilot.app)[23].split()[0] == "2:46:40"
        assert "marked" in drawn(pilot.app)[22]
        river.lines = (line(2.0),)
        assert len(river._rows) == 1


async def test_a_long_recording_does_not_grow_without_end():
    async with Alone().run_test(size=(80, 24)) as pilot:
        river = pilot.app.query_one(River)
        for start in range(0, 20_000, 400):
            river.lines = tuple(line(float(start + n)) for n in range(400))
        assert len(river._rows) <= river_module.KEPT + river_module.SPARE
        assert river._rows[-1].line.t_s == 19_999.0


async def test_leafing_back_stays_where_one_reads_while_new_lines_come():
    async with Alone().run_test(size=(80, 24)) as pilot:
        river = pilot.app.query_one(River)
        river.lines = tuple(line(2.0 * n) for n in range(100))
        river.leaf_page(1)
        await pilot.pause(0.1)
        read = drawn(pilot.app)[23]
        assert "rows back" in drawn(pilot.app)[0]
        river.lines = (line(200.0),)
        await pilot.pause(0.1)
        assert drawn(pilot.app)[23] == read
        river.to_now()
        await pilot.pause(0.1)
        assert drawn(pilot.app)[23].split()[0] == "03:20"
        river.leaf(10_000)
        await pilot.pause(0.1)
        assert drawn(pilot.app)[1].split()[0] == "00:00"
        assert len(drawn(pilot.app)[1]) > 20


async def test_the_wheel_leafs_too():
    async with Alone().run_test(size=(80, 24)) as pilot:
        river = pilot.app.query_one(River)
        river.lines = tuple(line(2.0 * n) for n in range(100))
        await pilot._post_mouse_events([_wheel_up()], widget=river)
        await pilot.pause(0.1)
        assert "3 rows back" in drawn(pilot.app)[0]


def _wheel_up():
    from textual import events

    return events.MouseScrollUp
