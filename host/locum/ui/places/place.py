"""What the four places have in common: a name, a help text, the keys that work everywhere."""

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


class Place(Screen):
    """One of the four; knows the desk, computes nothing."""

    AUTO_FOCUS = ""
    NAME = ""
    HELP = ""
    NEXT = ""
    """The next useful place, told at the top right."""
    OVER = True
    """What is connected stands over it in two rows; a place with a glance of its own needs none."""

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
        yield KeyWords(self.title_line(), id="place-title", markup=False)
        if self.OVER:
            yield Lintel(self.settings.unit)
        yield from self.compose_place()
        yield Keys()

    def on_screen_suspend(self) -> None:
        self.query_one(Keys).cover(True)

    def on_screen_resume(self) -> None:
        self.query_one(Keys).cover(False)

    def on_looked(self, message: Looked) -> None:
        title = self.query_one("#place-title", KeyWords)
        if str(title.content) != self.title_line():
            title.update(self.title_line())
        for lintel in self.query(Lintel):
            lintel.show(message.snapshot)

    def compose_place(self) -> ComposeResult:
        yield from ()

    def help_text(self) -> str:
        return str(self.HELP)

    def title_line(self) -> str:
        onward = f"   then: {self.NEXT}" if self.NEXT else ""
        whence = "   VIRTUAL BOARD" if self.desk.snapshot().virtual else ""
        return f"{self.NAME}{onward}   ? explains{whence}"
