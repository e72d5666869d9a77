"""Keys are obeyed one after the other, however fast they come.

Theory of operation. The library hands a key to the screen and looks at the next one before the screen has
obeyed: of a line typed in a hurry, or sent in one go over a slow network, ``f`` would follow before Enter
had opened the line. Here a key's binding is run at once, and the next key waits until everything that
the first one asked to be done later, such as giving a line the focus, has been done.
"""

from __future__ import annotations

from collections import deque

from textual import events
from textual.app import App
from textual.widgets import Input

from locum.ui.widgets.cramped import SAFE_KEYS, is_cramped


class KeyOrder(App[int]):
    """An application that takes its keys in order; a question that is open takes them all."""

    def __init__(self) -> None:
        super().__init__()
        self.only_keys: tuple[tuple[str, str], ...] = ()
        """The keys that answer the open question; empty while none is open."""
        self._begun: Input | None = None
        """The typed line into which something was typed."""
        self._settling = False
        self._keys_waiting: deque[events.Key] = deque()

    def answer_question(self, key: str) -> None:
        """What a key means while ``only_keys`` is not empty."""

    def action_real_now(self) -> None:
        """The real sensor at once."""

    async def on_event(self, event: events.Event) -> None:
        """Keys one after the other; everything else as the library does it."""
        if not isinstance(event, events.Key) or event.is_forwarded:
            await super().on_event(event)
        elif self._settling:
            self._keys_waiting.append(event)
        else:
            await self._take_key(event)

    async def _take_key(self, event: events.Key) -> None:
        """While it is asked whether to leave, a key answers that and does nothing else."""
        if is_cramped(self.size):
            self.screen.set_focus(None)  # nobody types into a line that cannot be seen
        if self.only_keys:
            self.answer_question(event.key)
        elif is_cramped(self.size) and event.key not in SAFE_KEYS:
            return
        elif event.key == "space" and self._line_is_untouched():
            self.action_real_now()
        elif event.key == "ctrl+c":  # also where a typed line would copy
            await self.run_action("leave")
        elif await self._obeyed(event):
            self._settling = True
            self.call_later(self._settle)
        else:
            ends = event.key in ("enter", "escape")
            self._begun = None if ends or not isinstance(self.focused, Input) else self.focused
            await super().on_event(event)

    def _line_is_untouched(self) -> bool:
        """Whether a typed line is open into which nothing was typed yet.

        What was typed a moment ago may still be on its way to the line, so its value alone does not tell.
        """
        line = self.focused
        return isinstance(line, Input) and not line.value and self._begun is not line

    async def _obeyed(self, event: events.Key) -> bool:
        """Whether the key did something; one for a typed line is left to that."""
        if isinstance(self.focused, Input):
            return False
        return await self._check_bindings(event.key, True) or await self._check_bindings(event.key)

    async def _settle(self) -> None:
        """Called once everything that a key asked to be done later has been done."""
        self._settling = False
        while self._keys_waiting and not self._settling:
            await self._take_key(self._keys_waiting.popleft())
