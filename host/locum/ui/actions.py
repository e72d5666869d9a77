"""Everything that can be done, by its words: what key 5 lists and searches."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.binding import Binding

from locum.jobs.prepare_line import LINES as PREPARED
from locum.jobs.typed import LINES
from locum.ui.places.place import Page
from locum.ui.widgets.keys import NAMES

if TYPE_CHECKING:
    from locum.ui.app import LocumApp

EVERYWHERE, TYPED, TYPED_BEFORE = "Everywhere", "Typed in Drive", "Typed in Prepare"
NOT_LISTED = ("find",)
"""The list itself."""


@dataclass(frozen=True)
class Doable:
    """One action: where it belongs, what is pressed or typed for it, what it does."""

    where: str
    key: str
    words: str
    do: Callable[[], object]

    def has(self, wanted: str) -> bool:
        """Whether each of the wanted words is somewhere in it."""
        said = f"{self.where} {self.key} {self.words}".lower()
        return all(word in said for word in wanted.lower().split())


def key_words(binding: Binding) -> str:
    """The key as a person would name it; of several the first."""
    key = binding.key.split(",")[0]
    return NAMES.get(key, key)


def doable(app: LocumApp, places: Mapping[str, type[Page]]) -> Iterator[Doable]:
    """Each binding of the application and of each place, and each line that can be typed."""
    for binding in bindings_of(type(app)):
        if binding.action not in NOT_LISTED:
            yield _of(binding, EVERYWHERE, lambda action=binding.action: app.call_later(app.run_action, action))  # fmt: skip
    for name, place in places.items():
        for binding in bindings_of(place):
            yield _of(binding, place.NAME, _in_place(app, name, binding.action))
    for line, what in LINES:
        yield Doable(TYPED, line, what, _typing(app, "drive", line))
    for line, what in PREPARED:
        yield Doable(TYPED_BEFORE, line, what, _typing(app, "prepare", line))


def _of(binding: Binding, where: str, do: Callable[[], object]) -> Doable:
    return Doable(where, key_words(binding), binding.tooltip or binding.description, do)


def bindings_of(owner: type) -> list[Binding]:
    """The bindings a class declares itself."""
    return [b for b in owner.__dict__.get("BINDINGS", ()) if isinstance(b, Binding)]


def _in_place(app: LocumApp, name: str, action: str) -> Callable[[], object]:
    async def go() -> None:
        await app.go_to(name)
        await app.run_action(action, app.screen)

    return lambda: app.call_later(go)


def _typing(app: LocumApp, place: str, line: str) -> Callable[[], object]:
    return lambda: app.call_later(app.put_line, place, line)
