"""What a terminal gets to see: glyph sets, themes, colours, and that nothing rests on colour alone."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rich.color import ColorSystem
from rich.segment import Segment
from rich.style import Style
from rich.terminal_theme import DEFAULT_TERMINAL_THEME
from textual.color import Color

from locum.errors import LocumError
from locum.jobs.desk_facts import Setup, Snapshot
from locum.settings import Settings, give_settings, load_settings
from locum.ui.looks.glyphs import SETS, AsciiOnly, plain
from locum.ui.looks.letters import FACE, HIGH, known, large, rows_high
from locum.ui.looks.looks import looks_for
from locum.ui.looks.terminal import TRUE_COLOUR, terminal_of
from locum.ui.looks.themes import INKS, NoColours, contrast, theme_of
from locum.ui.widgets.facts import facts_of
from locum.ui.widgets.glance import large_lines
from locum.ui.widgets.sketch import sketch
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(90)
UTF = {"LANG": "C.UTF-8"}


@pytest.mark.parametrize(
    ("environ", "platform", "colours", "glyphs"),
    [
        ({**UTF, "TERM": "xterm-256color"}, "linux", 256, "braille"),
        (
            {**UTF, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
            "linux",
            TRUE_COLOUR,
            "braille",
        ),
        ({**UTF, "TERM": "xterm-16color"}, "linux", 16, "braille"),
        ({**UTF, "TERM": "xterm"}, "linux", 16, "braille"),
        ({**UTF, "TERM": "xterm-256color", "NO_COLOR": "1"}, "linux", 0, "braille"),
        ({**UTF, "TERM": "linux"}, "linux", 16, "half"),
        ({**UTF, "TERM": "vt100"}, "linux", 0, "ascii"),
        ({"LANG": "C", "TERM": "xterm-256color"}, "linux", 256, "ascii"),
        ({"TERM": "xterm-256color"}, "linux", 256, "ascii"),
        ({"LANG": "en_US.UTF-8", "LC_ALL": "C", "TERM": "xterm"}, "linux", 16, "ascii"),
        ({}, "win32", 256, "half"),
        ({"WT_SESSION": "1"}, "win32", TRUE_COLOUR, "braille"),
    ],
)
def test_a_terminal_is_never_asked_for_more_than_it_is_known_to_have(
    environ, platform, colours, glyphs
):
    found = terminal_of(environ, platform)
    assert (found.colours, found.glyphs) == (colours, glyphs)


def test_auto_takes_what_is_safe_and_a_setting_wins():
    vt100 = {"TERM": "vt100", "LANG": "C"}
    safe = looks_for(Settings(), vt100, "linux")
    assert (safe.glyphs.name, safe.theme) == ("ascii", "colourless")
    wanted = looks_for(Settings(glyphs="half", theme="day"), vt100, "linux")
    assert (wanted.glyphs.name, wanted.theme) == ("half", "day")


def test_over_a_network_the_screens_look_less_often():
    near, far = looks_for(Settings(), UTF), looks_for(Settings(), {**UTF, "SSH_CONNECTION": "a b"})
    assert near.look_s == pytest.approx(0.1)
    assert far.look_s == pytest.approx(0.25)


# -- glyphs --------------------------------------------------------------------------------------


def test_every_pattern_of_dots_has_its_own_glyph_and_half_blocks_are_the_three_old_ones():
    for glyphs in SETS.values():
        assert len(set(glyphs.dots)) == len(glyphs.dots) == 2 ** (glyphs.across * glyphs.down)
    assert set(SETS["half"].dots) == set(" \u2580\u2584\u2588")
    # The lowest bit is the upper left dot: braille's dot 1; the highest the lower right: its dot 8.
    assert SETS["braille"].dots[1] == "\u2801"
    assert SETS["braille"].dots[128] == "\u2880"


@pytest.mark.parametrize(
    ("given", "got"),
    [
        ("\u2500", "-"),
        ("\u2588", "#"),
        ("\u00e9", "e"),
        ("\u4e2d", "? "),
        ("\u0301", ""),
        ("a", "a"),
    ],
)
def test_ascii_keeps_every_cell_where_it_was(given, got):
    assert plain(given) == got


def test_the_ascii_filter_leaves_nothing_else():
    line = [Segment("\u2502 r\u00e9sistance \u2265 3 \u03a9 \u2502"), Segment("plain")]
    out = AsciiOnly().apply(line, Color(0, 0, 0))
    assert "".join(s.text for s in out).isascii()
    assert sum(s.cell_length for s in out) == sum(s.cell_length for s in line)


# -- large letters -------------------------------------------------------------------------------


def test_no_two_letters_look_alike_and_all_are_as_high():
    alike = {"O": "0", "S": "5"}
    drawn: dict[str, str] = {}
    for letter, face in FACE.items():
        rows = face.split("/")
        assert len(rows) == HIGH
        assert len({len(row) for row in rows}) == 1
        twin = drawn.setdefault(face, letter)
        assert twin == letter or {twin, letter} <= set("O0"), (twin, letter, alike)


@pytest.mark.parametrize("name", SETS)
def test_a_large_word_is_a_rectangle_and_capitals_serve_for_small_letters(name):
    rows = large("Clutch 82.4", SETS[name])
    assert len(rows) == rows_high(SETS[name])
    assert len({len(row) for row in rows}) == 1
    assert rows == large("CLUTCH 82.4", SETS[name])
    assert rows != large("CLUTCH 82.5", SETS[name])


def test_what_has_no_large_letter_is_known_before():
    assert known("top gear, clutch locked")
    assert not known("\u00dcberdrive")


# -- colours -------------------------------------------------------------------------------------


def seen(colour, system: str) -> Color:
    """A colour after a terminal of that kind took the nearest of its own."""
    if system == "16":
        colour = colour.downgrade(ColorSystem.STANDARD)
    elif system == "256":
        colour = colour.downgrade(ColorSystem.EIGHT_BIT)
    return Color(*colour.get_truecolor(DEFAULT_TERMINAL_THEME))


def weak_cells(app, system: str, least: float) -> list[tuple[str, float]]:
    """Every run of text on the screen whose contrast is below the least."""
    found = []
    for strip in app.screen._compositor.render_strips():
        for segment in strip:
            style = segment.style
            if not segment.text.strip() or style is None or style.color is None:
                continue
            if not any(c.isalnum() for c in segment.text):
                continue  # rules and scroll bars may be quiet
            back = style.bgcolor if style.bgcolor is not None else None
            assert back is not None, segment
            value = contrast(seen(style.color, system), seen(back, system))
            if value < least:
                found.append((segment.text.strip(), round(value, 1)))
    return found


async def test_every_text_keeps_its_contrast_in_every_theme_also_in_sixteen_colours(desk_app):
    async with desk_app((120, 40), theme="day") as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: "STAND-IN" in screen_text(app))
        worn = []
        for theme, least in (("day", 7.0), ("night", 4.5), ("contrast", 7.0)):
            for colours in (256, 16):
                app.register_theme(replace(theme_of(theme, colours), name=f"{theme} {colours}"))
                worn.append((f"{theme} {colours}", colours, least))
        for key in ("2", "1", "3", "4", "question_mark"):
            await pilot.press(key)
            for name, colours, least in worn:
                app.theme = name
                await pilot.pause(0.1)
                for system in ("16",) if colours == 16 else ("256", "true"):
                    assert weak_cells(app, system, least) == [], (key, name, system)


def weak_styles(app, system: str, least: float) -> set[tuple[str, float]]:
    """Every style that a widget of the page in view may draw text in, also what is not drawn now.

    Contrast as WCAG 2.2 defines it (success criterion 1.4.3: 4.5 for text that must be read, 1.4.6: 7),
    https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio
    """
    found = set()
    for widget in app.screen.walk_children():
        names = sorted(widget._get_component_classes())
        styles = [(type(widget).__name__, widget.rich_style)]
        styles += [(name, widget.get_component_rich_style(name)) for name in names]
        for name, style in styles:
            if "scrollbar" in name or "cursor" in name or style.color is None:
                continue
            assert not style.dim, f"{name} is dimmed by the terminal: nobody knows how far"
            ground = style.bgcolor or widget.rich_style.bgcolor
            assert ground is not None, name
            value = contrast(seen(style.color, system), seen(ground, system))
            if value < least:
                found.add((name, round(value, 1)))
    return found


async def test_every_style_of_every_page_keeps_its_contrast_also_those_not_drawn_now(desk_app):
    worn = [(f"{theme} {colours}", theme, colours) for theme in INKS for colours in (256, 16)]
    async with desk_app((120, 40)) as (app, pilot):
        for name, theme, colours in worn:
            app.register_theme(replace(theme_of(theme, colours), name=name))
        for key in ("2", "1", "3", "4", "question_mark", "5", "K", "g"):
            await pilot.press(key)
            if app.focused is not None:
                await pilot.press("escape")
            for name, theme, colours in worn:
                app.theme = name
                await pilot.pause(0.05)
                least = 4.5 if theme == "night" else 7.0
                for system in ("16",) if colours == 16 else ("256", "true"):
                    assert weak_styles(app, system, least) == set(), (key, name, system)


def test_the_stand_in_stands_in_a_ground_with_a_straight_right_edge(a_glance):
    snapshot = Snapshot(Setup(), phase="recording", doing="hold", doing_words="82C",
                        glance=a_glance(source="stand_in", state="holding", told_c=82.0))  # fmt: skip
    for glyphs in SETS.values():
        lines = large_lines(facts_of(snapshot), glyphs, 118)
        edges = {len(line[0][0]) for line in lines if line and line[0][1] == "stand"}
        assert len(edges) == 1, edges
        assert (
            sum(line[:1] != () and line[0][1] == "stand" for line in lines) == rows_high(glyphs) + 2
        )


async def test_without_colours_none_reaches_the_terminal_and_the_words_are_the_same(
    desk_app, monkeypatch
):
    monkeypatch.setenv("TERM", "vt100")
    monkeypatch.setenv("LANG", "C")
    for name in ("LC_ALL", "LC_CTYPE", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    async with desk_app((80, 24)) as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: "STAND-IN" in screen_text(app))
        for key in ("2", "1", "3", "4", "question_mark"):
            await pilot.press(key)
            await pilot.pause(0.2)
            for strip in app.screen._compositor.render_strips():
                for segment in strip:
                    assert segment.text.isascii()
                    assert segment.style is None or segment.style.color is None, segment
                    assert segment.style is None or segment.style.bgcolor is None, segment
        await pilot.press("escape", "2")
        await until(pilot, lambda: "STAND-IN" in screen_text(app))


def test_what_stood_out_by_its_ground_is_reversed_without_colours():
    out = NoColours().apply([Segment("x", Style.parse("#000000 on #ffffff bold"))], Color(0, 0, 0))
    assert (out[0].style.bold, out[0].style.reverse) == (True, True)
    assert out[0].style.color is out[0].style.bgcolor is None


async def test_only_our_own_themes_can_be_chosen_and_each_can_be_put_on_while_running(desk_app):
    async with desk_app((80, 24)) as (app, pilot):
        assert set(app.available_themes) == set(INKS)
        for name in INKS:
            app.theme = name
            await pilot.pause(0.1)
            assert "REAL SENSOR" in screen_text(app)


# -- the sketch of a curve -----------------------------------------------------------------------

NTC = [(float(c), 5000.0 * 2.718281828 ** (-0.04 * c), 0.0) for c in range(-40, 141, 20)]


def filled(lines: list[str]) -> list[tuple[int, int]]:
    return [
        (y, x) for y, line in enumerate(lines[:-1]) for x, c in enumerate(line[12:]) if c != " "
    ]


@pytest.mark.parametrize("name", SETS)
def test_an_exponential_is_a_straight_line_from_upper_left_to_lower_right(name):
    lines = sketch(NTC, SETS[name], columns=60, rows=9)
    dots = filled(lines)
    assert (0, 0) in dots
    assert (8, 59) in dots
    assert {x for _, x in dots} == set(range(60))  # no gap
    assert all(abs(y - x * 8 / 59) <= 1 for y, x in dots)
    assert lines[0].split()[:2] == ["24.77", "k"]
    assert lines[-1].split() == ["-40", "C", "140", "C"]


def test_a_band_is_wider_where_less_is_known_and_finer_dots_show_it_narrower():
    unsure = [(c, ohm, abs(c - 20.0) / 10) for c, ohm, _ in NTC]
    for glyphs in SETS.values():
        sure, wide = len(filled(sketch(NTC, glyphs))), len(filled(sketch(unsure, glyphs)))
        assert wide > sure
    assert sketch(NTC[:1], SETS["half"]) == []


async def test_a_typed_sensor_is_drawn_where_there_is_room_and_told_in_figures_everywhere(desk_app):
    for size, drawn in (((120, 40), True), ((80, 24), False)):
        async with desk_app(size) as (app, pilot):
            await pilot.press("1", "enter", *"sensor 20C=2.5k,82C=300", "enter")
            await until(pilot, lambda app=app: "few ohms" in screen_text(app) or "kohm" in screen_text(app))  # fmt: skip
            await pilot.pause(0.2)
            assert app.screen.query_one("#prepare-sketch").display is drawn


# -- bell and settings ---------------------------------------------------------------------------


@pytest.mark.parametrize("bell", [True, False])
async def test_the_bell_rings_on_a_kick_out_unless_it_is_off(desk_app, monkeypatch, bell):
    async with desk_app((80, 24), bell=bell) as (app, pilot):
        rung = []
        monkeypatch.setattr(app, "bell", lambda: rung.append(1))
        app.desk.on_kick_out()
        await pilot.pause(0.2)
        assert bool(rung) is bell


def test_every_look_is_a_setting_and_an_option():
    give_settings(["theme=contrast", "glyphs=ascii", "bell=false", "unit=fahrenheit"])
    try:
        given = load_settings()
    finally:
        give_settings([])
    assert (given.theme, given.glyphs, given.bell, given.unit) == ("contrast", "ascii", False, "fahrenheit")  # fmt: skip
    with pytest.raises(LocumError, match="theme"):
        give_settings(["theme=pink"])
    give_settings([])
