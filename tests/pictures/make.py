"""Draw the pictures of the screens: the real application, the virtual board, a fixed seed.

    python tests/pictures/make.py            # write them beside this file
    python tests/pictures/make.py --check    # exit 1 if a committed one says something else
    python tests/pictures/make.py --text DIR # the same screens as text

A test runs the check, so that the README cannot show screens that no longer exist.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import sys
import tempfile
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parent))

from lockstep import SteppedDesk, use_long_ticks
from svg import picture, text_of

HERE = Path(__file__).resolve().parent
SIZE = (120, 40)
SEED = 9
"""On this seed's road a kick-out comes within half an hour."""
LONGEST_S, AT_ONCE_S = 1500, 5
HEARD_H, GIVEN_H = 0.6, 0.2


@dataclass(frozen=True)
class Picture:
    """One screen, drawn."""

    name: str
    title: str
    svg: str
    text: str


def half_played(case) -> float:
    """The demo's first two drives: listened to, then provoked."""
    from locum.jobs import demo, demo_drives

    case.circuit = demo.calibrated_circuit(case)
    demo_drives.listen(case, hours_wanted=HEARD_H)
    demo_drives.provoke(case, hours_wanted=GIVEN_H, lengths_ms=case.lengths_to_give_ms())
    return case.connection.clock.now_s()


def case_so_far(folder: Path) -> tuple[str, str]:
    """A casebook with one case, listened to and provoked; its path and the case's id."""
    from locum.jobs import demo

    with patch.object(demo, "play", half_played):
        found = demo.demo(str(folder))
    return found.casebook, found.case


async def until_kick_out(desk) -> None:
    """Play until one has been rung, and a little on."""
    for _ in range(LONGEST_S // AT_ONCE_S):
        await desk.play(AT_ONCE_S)
        if desk.told.awaits_answer:
            break
    await desk.play(3.0)


@asynccontextmanager
async def application(setup, size=SIZE):
    """The application on a stepped desk, its first look taken."""
    from locum.settings import Settings
    from locum.ui.app import LocumApp
    from locum.ui.looks.terminal import TRUE_COLOUR, Terminal

    app = LocumApp(setup, Settings(theme="night", glyphs="half"))
    app.looks = replace(app.looks, terminal=Terminal(TRUE_COLOUR, "half", remote=False))
    app.desk = SteppedDesk(setup, app.settings)
    async with app.run_test(size=size) as pilot:
        await app.desk.play(2.0)
        yield app, pilot
        await asyncio.to_thread(app.desk.close, 3.0)


async def drawn(app, name: str, title: str) -> Picture:
    """The screen as it stands once everything has been taken in."""
    app.look()
    await still(app)
    columns, rows = app.size
    strips = app.screen._compositor.render_strips()[:rows]
    lines = [list(strip) for strip in strips]
    return Picture(name, title, picture(lines, columns, title), dated(text_of(lines)))


async def still(app) -> None:
    """Until workers have ended and the text stays the same."""
    last = None
    for _ in range(200):
        await asyncio.sleep(0.05)
        text = text_of([list(strip) for strip in app.screen._compositor.render_strips()])
        if text == last and "weighing" not in text:
            return
        last = text


def dated(text: str) -> str:
    """The text without when it was made, and without names that are made up anew each time."""
    text = re.sub(r"\b20\d\d-\d\d-\d\d( \d\d:\d\d)?\b", "DATE", text)
    return re.sub(r"\b[0-9A-HJKMNP-TV-Z]{26}\b", "ID", text)


async def first_start(folder: Path) -> list[Picture]:
    from locum.jobs.desk import Setup

    setup = Setup(board="virtual", casebook=str(folder / "none.sqlite"), seed=SEED, speed=0)
    async with application(setup) as (app, pilot):
        for line in ("coolant", "20C=2.5k", "82C=300"):
            await pilot.press(*("equals_sign" if c == "=" else c for c in line), "enter")
        return [await drawn(app, "first-start", "Guided start: the third of five answers")]


async def places(folder: Path) -> list[Picture]:
    from locum.jobs.desk import Setup

    book, case_id = case_so_far(folder)
    setup = Setup(board="virtual", casebook=book, case=case_id, seed=SEED, speed=0)
    made = []
    async with application(setup) as (app, pilot):
        app.desk.live.connection.body.world.tell("drive", wet=True)
        await until_kick_out(app.desk)
        made.append(await drawn(app, "drive", "Drive: listening, a kick-out after a glitch"))
        await pilot.press("l")
        await app.desk.play(20.0)
        await pilot.press("enter", *"82", "enter")
        await app.desk.play(24.0)
        made.append(await drawn(app, "stand-in", "Drive: the stand-in holds 82 degrees"))
        await pilot.press("space")
        await app.desk.play(2.0)
        for key, name, title in (
            ("1", "prepare", "Prepare: what must be true before anything is connected"),
            ("3", "evidence", "Evidence: how far it reaches, what is missing, what next"),
            ("4", "cases", "Cases: one in the casebook, in use"),
        ):
            await pilot.press(key)
            made.append(await drawn(app, name, title))
    return made


async def all_pictures() -> list[Picture]:
    """Every picture, in the order in which somebody meets the screens."""
    use_long_ticks()
    with tempfile.TemporaryDirectory() as folder:
        return [*await first_start(Path(folder)), *await places(Path(folder))]


def committed(name: str) -> str:
    """The text that a committed picture holds, in the order of its rows."""
    path = HERE / f"{name}.svg"
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def said(svg: str) -> list[str]:
    """Every run of text in a picture, without days."""
    return [dated(found) for found in re.findall(r"<text [^>]*>([^<]*)</text>", svg)]


def stale(pictures: list[Picture]) -> list[str]:
    """Names of the pictures whose committed words are others than those of now."""
    return [p.name for p in pictures if said(committed(p.name)) != said(p.svg)]


def main() -> int:
    parser = argparse.ArgumentParser(description="Draw the pictures of the screens.")
    parser.add_argument("--check", action="store_true", help="only compare; exit 1 if one is stale")
    parser.add_argument("--text", type=Path, metavar="DIR", help="write the screens as text there")
    options = parser.parse_args()
    pictures = asyncio.run(all_pictures())
    if options.text:
        options.text.mkdir(parents=True, exist_ok=True)
        for one in pictures:
            (options.text / f"{one.name}.txt").write_text(one.text, encoding="utf-8")
    if options.check:
        old = stale(pictures)
        print(f"{len(pictures) - len(old)} of {len(pictures)} pictures are as the screens are now")
        for name in old:
            print(f"stale: {name}; run python tests/pictures/make.py")
        return 1 if old else 0
    if not options.text:
        for one in pictures:
            (HERE / f"{one.name}.svg").write_text(one.svg, encoding="utf-8")
            print(f"{one.name}.svg: {one.title}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
