"""What the four places have in common: a name, a help text, the keys that work everywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult
from textual.screen import Screen
from textual.widgets import Footer, Static

from locum.jobs.desk import Desk
from locum.settings import Settings

if TYPE_CHECKING:
    from locum.ui.app import LocumApp


class Place(Screen):
    """One of the four; knows the desk, computes nothing."""

    AUTO_FOCUS = ""
    NAME = ""
    HELP = ""
    NEXT = ""
    """The next useful place, told at the top right."""

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
        yield Static(self.title_line(), id="place-title")
        yield from self.compose_place()
        yield Footer(show_command_palette=False)

    def compose_place(self) -> ComposeResult:
        yield from ()

    def title_line(self) -> str:
        onward = f"   next: {self.NEXT}" if self.NEXT else ""
        return f"{self.NAME}{onward}   ? explains"
