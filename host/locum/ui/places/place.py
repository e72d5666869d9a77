"""What every page has in common: the lintel, what the program says, the keys; and what a place adds."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult
from textual.screen import Screen

from locum.jobs.desk import Desk
from locum.settings import Settings
from locum.ui.messages import Looked
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
        yield from self.compose_place()
        yield KeyWords("", id="said", markup=False)
        yield Keys()

    def compose_place(self) -> ComposeResult:
        yield from ()

    def on_mount(self) -> None:
        self.query_one("#said").display = False

    def on_screen_resume(self) -> None:
        self.take_look(Looked(self.desk.snapshot()))

    def on_looked(self, message: Looked) -> None:
        self.take_look(message)

    def take_look(self, message: Looked) -> None:
        """Show the newest snapshot, and what the program has to say to whoever works it."""
        for lintel in self.query(Lintel):
            lintel.show(message.snapshot)
        said = self.query_one("#said", KeyWords)
        if str(said.content) != self.locum.said:
            said.update(self.locum.said)
            said.display = bool(self.locum.said)
            self.refresh_bindings()


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
        onward = f"   then: {self.NEXT}" if self.NEXT else ""
        whence = "   VIRTUAL BOARD" if self.desk.snapshot().virtual else ""
        return f"{self.NAME}{onward}   ? explains   5 all that can be done{whence}"


class Over(Page):
    """Lies over a place and is left by Escape: the place comes back as it was."""
