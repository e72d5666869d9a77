"""A whole case by keyboard alone, from an empty casebook to its pages, every key counted."""

from __future__ import annotations

from pathlib import Path

import pytest

from locum.casebook.store import Store
from ui_counted import MOST_KEYS, Hand
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(300)


def flat(app) -> str:
    return " ".join(screen_text(app).split())


async def test_from_an_empty_casebook_to_the_pages_by_keyboard_alone(desk_app, tmp_path):
    async with desk_app((80, 24), speed=20.0, told={}) as (app, pilot):
        hand, desk = Hand(pilot), app.desk

        task = "a warm value held, from the first question"
        await until(pilot, lambda: "Which circuit?" in screen_text(app))
        for line in ("", "20C=2.5k", "80C=310", "", "y"):
            await hand.does(task, *line, "enter")
        await until(pilot, lambda: desk.snapshot().glance.source == "stand_in", 30)
        await until(pilot, lambda: abs((desk.snapshot().glance.told_c or 0) - 80) < 1, 30)
        held_s = desk.snapshot().glance.t_s
        assert held_s < 60 * 2, "the walk from the real value included"

        await hand.does("the real sensor now", "space")
        await until(pilot, lambda: desk.snapshot().glance.source == "real", 5)
        await until(pilot, lambda: "Anything felt" in flat(app) or "anything felt" in flat(app))
        await hand.does("anything felt answered", "n")
        await until(pilot, lambda: not desk.snapshot().asks_felt)

        await hand.does("a case begun, the recording filed in it", "4", "n", *"Van 7", "enter")
        await until(pilot, lambda: desk.snapshot().case_id is not None)
        first = desk.snapshot().drive_id

        await hand.does("weighed", "3")
        await until(pilot, lambda: "n starts the next drive" in flat(app))
        await hand.does("the next drive begun", "n")
        await until(pilot, lambda: desk.snapshot().drive_id != first, 20)
        await until(pilot, lambda: desk.snapshot().phase == "recording")
        assert desk.snapshot().case_id is not None

        await hand.does("one open given", "enter", *"open 600", "enter")
        await until(pilot, lambda: desk.snapshot().glance.source == "stand_in", 30)
        await until(pilot, lambda: any(e.kind == "injected" for x in desk.snapshot().lines
                                       for e in x.events), 30)  # fmt: skip
        desk.show(awaits_answer=True)  # the virtual van has no kick-out of its own in this minute
        await until(pilot, lambda: "j foot" in flat(app))
        await hand.does("a kick-out's cause said", "j")
        await until(pilot, lambda: not desk.snapshot().awaits_answer)
        await hand.does("home again", "b")
        await until(pilot, lambda: desk.snapshot().glance.source == "real", 30)
        second = desk.snapshot().drive_id
        await hand.does("a new recording", "v")
        await until(pilot, lambda: desk.snapshot().drive_id != second, 20)

        await pilot.press("4")
        await hand.does("the defect written down", "f", *"pin 2 green", "enter")
        await until(pilot, lambda: "pin 2 green" in flat(app))
        await hand.does("the repair written down", "p", *"new pin", "enter")
        await until(pilot, lambda: "repaired: new pin" in flat(app))
        await hand.does("both pages written", "o")
        await until(pilot, lambda: "Both pages written" in flat(app), 40)
        await hand.does("exported", "x")
        await until(pilot, lambda: "Exported to" in flat(app), 40)
        case_id = app.case_id
        await hand.does("left", "q")
        await until(pilot, lambda: desk.snapshot().phase == "ended", 5)

    hand.check()
    assert set(hand.counted) == set(MOST_KEYS)
    pages = sorted(p.name for p in Path(tmp_path / "data").rglob("report-*.html"))
    assert {"report-customer.html", "report-workshop.html"} <= set(pages)
    with Store.open(str(tmp_path / "casebook.sqlite")) as store:
        assert len(store.drives(case_id)) == 3
        kept = store.drive(first)
        assert any(s.felt is False for s in kept.stretches), "the answer is kept with its stretch"
        marks = [m.kind for m in store.marks(second)]
        assert "foot" in marks
        roles = {sheet.role for sheet in store.sheets(case_id)}
        assert {"sensor", "module", "vehicle"} <= roles, "the case can be weighed and opened again"
