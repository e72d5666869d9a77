"""The keys of the place one is on, in one row that is never cut, each of them also a button for a mouse.

What brings the real sensor back stands first; what finds no room is left out whole, with ``?``, which
explains all of them, always kept. Names of keys are words: no signs that a terminal may not have.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rich.segment import Segment
from textual import events
from textual.screen import Screen
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Static

NAMES = {"space": "Space", "enter": "Enter", "question_mark": "?", "escape": "Esc", "slash": "/",
         "up": "Up", "down": "Down", "pageup": "Page Up", "pagedown": "Page Down", "home": "Home", "end": "End",
         "left": "Left", "right": "Right", "tab": "Tab", "plus": "+", "minus": "-"}  # fmt: skip
FIRST, LAST = ("space", "b"), ("question_mark", "q")
"""Keys that are always kept, at the left and at the right end; a page may name others as first."""
TYPING = (("enter", "take it"), ("escape", "closes, then Space: REAL SENSOR NOW"))
"""What holds while a line is being typed: every other key belongs to it."""
GAP = 2


@dataclass(frozen=True)
class Key:
    """One key and what it does."""

    key: str
    does: str

    @property
    def name(self) -> str:
        return NAMES.get(self.key, self.key)

    @property
    def cells(self) -> int:
        return len(self.name) + 1 + len(self.does)


class Keys(Widget, can_focus=False):
    """The lowest row of every place."""

    COMPONENT_CLASSES = {"keys--key", "keys--does"}
    ALLOW_SELECT = False

    def __init__(self, **kwargs) -> None:
        super().__init__(**kwargs)
        self._keys: tuple[Key, ...] = ()

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, self._changed)
        self._changed(self.screen)

    def on_resize(self) -> None:
        self._changed(self.screen)

    def _changed(self, screen: Screen) -> None:
        if not self.is_attached or screen is not self.screen:
            return
        keys = fitted(keys_of(screen), self.size.width)
        if keys != self._keys:
            self._keys = keys
            self.refresh()

    def placed(self) -> list[tuple[int, Key]]:
        """Where each key begins. [cells]"""
        at, made = 0, []
        for key in self._keys:
            made.append((at, key))
            at += key.cells + GAP
        return made

    def render_line(self, y: int) -> Strip:
        key_style = self.get_component_rich_style("keys--key")
        does_style = self.get_component_rich_style("keys--does")
        pieces = []
        for _, key in self.placed() if y == 0 else ():
            pieces += [
                Segment(key.name, key_style),
                Segment(f" {key.does}" + " " * GAP, does_style),
            ]
        return Strip(pieces).adjust_cell_length(self.size.width, does_style)

    def on_click(self, event: events.Click) -> None:
        for at, key in self.placed():
            if at <= event.x < at + key.cells:
                self.app.simulate_key(key.key)


class KeyWords(Static):
    """A line such as ``j foot   k brake``: whatever begins with a key of one letter can be clicked."""

    ALLOW_SELECT = False

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if offset is None:
            return
        lines = str(self.content).split("\n")
        key = key_at(lines[offset.y], offset.x) if offset.y < len(lines) else None
        if key is not None:
            self.app.simulate_key("question_mark" if key == "?" else key)


def key_at(text: str, x: int) -> str | None:
    """The key that begins the words at a cell; words are parted by two blanks or more."""
    if not 0 <= x < len(text) or text[x : x + 2].isspace():
        return None
    start = text.rfind("  ", 0, x + 1)
    words = (
        text[start + 2 if start >= 0 else 0 :]
        .split("  ")[0]
        .removeprefix("next: ")
        .removeprefix("then: ")
        .split()
    )
    return words[0] if words and len(words[0]) == 1 and len(words) > 1 else None


def named(keys: Iterable[tuple[str, str]]) -> list[Key]:
    return [Key(key, does) for key, does in keys]


def keys_of(screen: Screen) -> list[Key]:
    """The keys to be shown, in the order in which they deserve room."""
    from textual.widgets import Input

    asked = getattr(screen.app, "only_keys", ())  # a question is open: nothing else is taken
    own = asked or getattr(screen, "OWN_KEYS", ())
    if own or isinstance(screen.focused, Input):
        return named(own or TYPING)
    left_out = getattr(screen, "left_out", ())
    found: dict[str, Key] = {}
    for active in screen.active_bindings.values():
        binding = active.binding
        if binding.show and active.enabled and binding.action not in left_out:
            key = Key(binding.key, binding.description)
            other = found.setdefault(binding.action, key)
            if len(key.key) < len(other.key):  # of several keys the plainest is shown
                found[binding.action] = key
    rank = {key: n for n, key in enumerate((*getattr(screen, "FIRST_KEYS", FIRST), *LAST))}
    return sorted(found.values(), key=lambda key: rank.get(key.key, len(rank)))


def fitted(keys: list[Key], cells: int) -> tuple[Key, ...]:
    """Those keys that fit whole into so many cells, the last ones at the right end."""
    kept: list[Key] = []
    for key in keys:
        if sum(k.cells + GAP for k in kept) + key.cells <= cells:
            kept.append(key)
    return tuple(sorted(kept, key=lambda k: k.key in LAST))
