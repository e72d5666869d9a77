"""Every action of every place by its words: what Ctrl+P searches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from textual.app import SystemCommand
from textual.binding import Binding
from textual.widgets import Input

from locum.jobs.typed import LINES
from locum.ui.places.place import Place

if TYPE_CHECKING:
    from locum.ui.app import LocumApp

KEYS = {"question_mark": "?", "slash": "/", "enter": "Enter", "space": "Space", "escape": "Escape"}


def key_words(binding: Binding) -> str:
    """The key as a person would name it; of several the first."""
    key = binding.key.split(",")[0]
    return KEYS.get(key, key)


def sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def commands(app: LocumApp, places: dict[str, type[Place]]) -> Iterator[SystemCommand]:
    """One command for each binding of the application and of each place, and each typed line."""
    for binding in bindings_of(type(app)):
        yield SystemCommand(
            sentence(binding.description), f"everywhere: {key_words(binding)}",
            lambda action=binding.action: app.call_later(app.run_action, action),
        )  # fmt: skip
    for name, place in places.items():
        for binding in bindings_of(place):
            yield SystemCommand(
                sentence(binding.description), f"{place.NAME}: {key_words(binding)}",
                _in_place(app, name, binding.action),
            )  # fmt: skip
    for line, what in LINES:
        yield SystemCommand(sentence(what), f"Drive, typed: {line}", _typing(app, line))


def bindings_of(owner: type) -> list[Binding]:
    """The bindings a class declares itself."""
    return [b for b in owner.__dict__.get("BINDINGS", ()) if isinstance(b, Binding)]


def _in_place(app: LocumApp, name: str, action: str) -> Callable[[], object]:
    async def go() -> None:
        if app.screen is not app.get_screen(name):
            await app.switch_screen(name)
        await app.run_action(action, app.screen)

    return lambda: app.call_later(go)


def _typing(app: LocumApp, line: str) -> Callable[[], object]:
    async def go() -> None:
        if app.screen is not app.get_screen("drive"):
            await app.switch_screen("drive")
        typed = app.screen.query_one("#typed", Input)
        typed.value = line
        typed.focus()
        typed.cursor_position = len(line)

    return lambda: app.call_later(go)
