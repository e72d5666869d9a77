"""Help of the place one is on; Escape, ? or Enter leaves it."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding

from locum.ui.places.place import Over
from locum.ui.widgets.rows import Row, Rows

EVERYWHERE = """\
Everywhere

1 2 3 4           Prepare, Drive, Evidence, Cases
5                 all that can be done, found by its words; Ctrl+P too
Space             real sensor now, here too; not while a line is typed:
                  there Esc first, then Space
b                 ease back: walk to the real value, then the real sensor
m M L J           felt just now; 10 s ago; 30 s ago; about to come
j k l             after a kick-out's bell: it was the foot, the brake, the road
g                 guided start: five answers to a value held
K                 calibrate: the board measures itself, two minutes
q                 leave; asks only while the stand-in is connected
"""


class Help(Over):
    """The explanation of one place at a time."""

    NAME = "Explained"
    OWN_KEYS = (("space", "REAL SENSOR NOW"), ("escape", "or ? closes this"))
    BINDINGS = [
        Binding("question_mark,enter,q", "close", "closes this", show=False),
        Binding("down", "leaf(1)", "more", show=False),
        Binding("up", "leaf(-1)", "back", show=False),
        Binding("pagedown", "leaf(15)", "a page on", show=False),
        Binding("pageup", "leaf(-15)", "a page back", show=False),
    ]

    def compose_place(self) -> ComposeResult:
        yield Rows(id="help")

    def explain(self, name: str, text: str) -> None:
        """Show the explanation of that place, from its top."""
        lines = [f"{name}, explained", *joined(text), "", *joined(EVERYWHERE)]
        heads = (lines[0], "Everywhere")
        rows = [Row(line, "head" if line in heads else "text") for line in lines]
        self.query_one(Rows).show_anew(rows)

    def action_close(self) -> None:
        self.locum.pop_screen()

    def action_leaf(self, rows: int) -> None:
        self.query_one(Rows).leaf(rows)


def joined(text: str) -> list[str]:
    """Lines that go on in the next one made whole: they are broken anew at the screen's width."""
    lines: list[str] = []
    for line in text.strip("\n").split("\n"):
        before = lines[-1] if lines else ""
        goes_on = line.startswith(" ") or ("  " not in before + line and not before.endswith("."))
        if before.strip() and line.strip() and goes_on:
            apart = "   " if "   " in line.strip() else " "  # examples stay apart from each other
            lines[-1] = f"{before}{apart}{line.strip()}"
        else:
            lines.append(line)
    return lines
