"""What every page has in common: the lintel, what the program says, the keys; and what a place adds."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult
from textual.screen import Screen
from textual.widgets import Input, Static

from locum.jobs.desk import Desk
from locum.settings import Settings
from locum.ui.asking import asking_text, elsewhere_text
from locum.ui.messages import Looked
from locum.ui.widgets.cramped import Cramped
from locum.ui.widgets.facts import facts_of
from locum.ui.widgets.keys import Keys, KeyWords
from locum.ui.widgets.lintel import Lintel

if TYPE_CHECKING:
    from locum.ui.app import LocumApp


class Page(Screen[None]):
    """Anything that fills the screen; knows the desk, computes nothing."""

    AUTO_FOCUS = ""
    NAME = ""
    OVER = True
    """What is connected stands over it; a place with a glance of its own needs no lintel."""
    left_out: tuple[str, ...] = ("ease",)
    """Actions whose keys are not shown, because they would do nothing now."""

    @property
    def locum(self) -> LocumApp:
        return cast("LocumApp", self.app)

    @property
    def desk(self) -> Desk:
        return self.locum.desk

    @property
    def settings(self) -> Settings:
        return self.locum.settings

    def compose(self) -> ComposeResult:
        if self.OVER:
            yield Lintel(self.settings.unit)
            yield KeyWords("", id="bell", markup=False)
        yield from self.compose_place()
        yield KeyWords("", id="said", markup=False)
        yield Keys()
        yield Cramped(self.settings.unit)

    def compose_place(self) -> ComposeResult:
        yield from ()

    def on_mount(self) -> None:
        for name in ("said", "bell"):
            self.query_one(f"#{name}").display = False

    def on_screen_resume(self) -> None:
        self.take_look(Looked(self.desk.snapshot()))

    def on_looked(self, message: Looked) -> None:
        self.take_look(message)

    def take_look(self, message: Looked) -> None:
        """Show the newest snapshot, and what the program has to say to whoever works it."""
        snapshot = message.snapshot
        self.query_one(Cramped).show(snapshot, self.locum.said)
        for lintel in self.query(Lintel):
            lintel.show(snapshot)
        if self.tell("said", self.locum.said):
            self.refresh_bindings()
        next_words = facts_of(snapshot, self.settings.unit).next
        self.tell("bell", elsewhere_text(snapshot, next_words) if self.OVER else asking_text(snapshot))  # fmt: skip
        self._leave_out(self.useless_keys(message))

    def useless_keys(self, message: Looked) -> tuple[str, ...]:
        """Actions that would do nothing now, such as easing back from nothing."""
        snapshot = message.snapshot
        if snapshot.phase != "recording":
            return ("ease", "follow", "mark(0)")
        if snapshot.hidden:  # whatever else is asked for is not done before the test is over
            return ("follow", "type") if self.NAME == "Drive" else ()
        away = snapshot.glance is not None and snapshot.glance.standing_in
        return () if away else ("ease",)

    def _leave_out(self, actions: tuple[str, ...]) -> None:
        if actions != self.left_out:
            self.left_out = actions
            self.refresh_bindings()

    def tell(self, name: str, text: str) -> bool:
        """Put a text into a row that is gone while it is empty; whether it is another text."""
        widget = self.query_one(f"#{name}", Static)
        changed = str(widget.content) != text
        if changed:
            widget.update(text)
        widget.display = bool(text)
        return changed


class Place(Page):
    """One of the four, or the guided start."""

    HELP = ""
    NEXT = ""
    """The next useful place, told at the top right."""

    def compose(self) -> ComposeResult:
        yield KeyWords(self.title_line(), id="place-title", markup=False)
        yield from super().compose()

    def take_look(self, message: Looked) -> None:
        super().take_look(message)
        title = self.query_one("#place-title", KeyWords)
        if str(title.content) != self.title_line():
            title.update(self.title_line())

    def help_text(self) -> str:
        return str(self.HELP)

    def title_line(self) -> str:
        whence = "   VIRTUAL BOARD" if self.desk.snapshot().virtual else ""
        onward = f"   then: {self.NEXT}" if self.NEXT else ""
        typing = self.is_mounted and isinstance(self.focused, Input)
        hints = "" if typing else "   ? explains   5 all that can be done"
        return f"{self.NAME}{whence}{onward}{hints}"


class Over(Page):
    """Lies over a place and is left by Escape: the place comes back as it was."""
