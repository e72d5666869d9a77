"""The running lines as rows of text: one for every few seconds, one for everything that happened.

Theory of operation. A line of the record becomes a row: when, what the module is told, the truth, both
as marks between two ends, what is commanded. The commanded state is said when it changes and then only
carried on by a stroke, so that what is new is what catches the eye. Everything that happened gets a row
of its own where it happened, with its own time to a tenth, also if it became certain only later: a glitch as an
arrow from the truth towards cold or hot, a kick-out in capitals. Nothing is told by colour.

``--plain`` prints the same (:func:`plain_line`); the screen draws the same rows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from locum.jobs.lines import Event, Line
from locum.ui import words

TOLD, TRUE, BOTH = "+", "o", "*"
"""Marks of what is told, of the truth, and of both in one cell."""
STEP_C = 5.0
"""The ends of the column stand at multiples of this, so that they seldom move. [K]"""
LEAST_C = 10.0
"""The column never spans less. [K]"""
ARROWS = {"cold": "<", "open": "<", "hot": ">", "short": ">"}
LATEST = 60
"""An event goes up by so many rows at most."""
ARROW = 5
"""Cells of an arrow's shaft."""


@dataclass(frozen=True)
class Row:
    """One row of the river."""

    line: Line
    """The line it belongs to."""
    event: Event | None = None
    changed: bool = True
    """The commanded state is another one than in the line before."""


@dataclass(frozen=True)
class Column:
    """The narrow column of temperatures."""

    low_c: float
    high_c: float
    cells: int

    def at(self, celsius: float) -> int:
        """The cell of a temperature, the first or last one beyond the ends."""
        share = (celsius - self.low_c) / (self.high_c - self.low_c)
        return min(max(round(share * (self.cells - 1)), 0), self.cells - 1)


def rows_of(line: Line, before: Line | None) -> list[Row]:
    """The rows of one line: what happened, oldest first, then the line itself."""
    made = [Row(line, event) for event in line.events]
    return [*made, Row(line, None, before is None or before.commanded != line.commanded)]


def put_in(rows: list[Row], row: Row) -> None:
    """Add a row; what became certain only later goes up to where it happened."""
    at = len(rows)
    if row.event is not None:
        while at > max(0, len(rows) - LATEST) and when(rows[at - 1]) > row.event.t_s:
            at -= 1
    rows.insert(at, row)


def when(row: Row) -> float:
    """When a row's event or line was. [s]"""
    return row.line.t_s if row.event is None else row.event.t_s


def column_over(lines: Iterable[Line], cells: int) -> Column:
    """A column whose ends hold every temperature of these lines."""
    seen = [v for line in lines for v in (line.told_c, line.true_c) if v is not None]
    if not seen:
        return Column(0.0, 100.0, cells)
    low = (min(seen) - 1.0) // STEP_C * STEP_C
    high = -((-max(seen) - 1.0) // STEP_C) * STEP_C
    return Column(low, max(high, low + LEAST_C), cells)


def marks(line: Line, column: Column) -> str:
    """The line's temperatures as marks: ``o`` true, ``+`` told, ``*`` both in one cell."""
    cells = [" "] * column.cells
    if line.true_c is not None:
        cells[column.at(line.true_c)] = TRUE
    if line.told_c is not None and line.source != "real":
        at = column.at(line.told_c)
        cells[at] = TOLD if cells[at] == " " else BOTH
    return "".join(cells)


def arrow(event: Event, line: Line, column: Column) -> str:
    """A glitch or one of ours as an arrow that begins at the truth, else blanks."""
    tip = ARROWS.get(event.words) if event.kind in ("glitch", "injected") else None
    if tip is None:
        return " " * column.cells
    start = column.at(line.true_c) if line.true_c is not None else column.cells // 2
    start = min(max(start, ARROW), column.cells - 1 - ARROW)  # so that the shaft has room
    cells = [" "] * column.cells
    way = -1 if tip == "<" else 1
    for far in range(ARROW):
        cells[start + way * far] = "-"
    cells[start + way * ARROW] = tip
    return "".join(cells)


def told_words(line: Line, unit: str) -> str:
    """What the module is told: ``real`` while its own sensor is connected."""
    if line.source == "real":
        return "real"
    return "moves" if line.source == "moving" else _number(line.told_c, unit)


def _number(celsius: float | None, unit: str) -> str:
    return words.degrees(celsius, unit).rsplit(" ", 1)[0]


def moment(t_s: float) -> str:
    """When something happened: to a tenth while there is room for it."""
    return words.clock(t_s) if t_s >= 3600 else f"{words.clock(t_s)}.{int(t_s * 10) % 10}"


def commanded_words(row: Row, first: bool) -> str:
    """The commanded state, or the stroke that carries it on: ``|`` held, ``.`` another."""
    if row.changed or first or not row.line.commanded:
        return row.line.commanded
    return "|" if row.line.held else "."


def event_parts(event: Event) -> tuple[str, str]:
    """An event as a word for the narrow place and the rest of it."""
    if event.kind == "kick_out":
        return words.EVENT[
            "kick_out"
        ], f"{event.words}: lost, and no cause seen" if event.words else ""
    if event.kind == "connected":
        head, colon, rest = event.words.partition(": ")
        return (head, rest) if colon else ("", event.words)
    head = words.EVENT.get(event.kind, "")
    return head, words.event_words(event.kind, event.words, event.detail)[len(head) :].lstrip(": ")


def row_text(row: Row, unit: str, column: Column, hidden: bool = False, first: bool = False) -> str:
    """One row as the screen shows it."""
    line = row.line
    if row.event is not None:
        head, rest = event_parts(row.event)
        shaft = "" if hidden else arrow(row.event, line, column)
        beside = f"{shaft}  {rest}" if shaft.strip() else rest  # words have the column's room too
        return f"{moment(row.event.t_s):>8} {head:<13}  {beside}".rstrip()
    told = "--" if hidden else told_words(line, unit)
    true = "--" if hidden else _number(line.true_c, unit)
    seen = " " * column.cells if hidden else marks(line, column)
    when = words.clock(line.t_s)
    return f"{when:>8} {told:>6} {true:>6}  {seen}  {commanded_words(row, first)}".rstrip()


def head_text(unit: str, column: Column) -> str:
    """The words above the rows."""
    low, high = (words.degrees(c, unit, 0) for c in (column.low_c, column.high_c))
    ends = f"{low}{high:>{column.cells - len(low)}}"
    return f"{'time':>8} {'told':>6} {'true':>6}  {ends}  commanded  {TRUE} true  {TOLD} told  {BOTH} both"


def plain_line(line: Line, unit: str, hidden: bool = False) -> str:
    """One running line as ``--plain`` prints it: understood when read alone, as a screen reader does."""
    what = "; ".join(" ".join(p for p in event_parts(e) if p) for e in line.events)
    # What happened comes first: a braille row or a narrow terminal cuts the end.
    told = (what, connected_words(line, unit, hidden), line.commanded)
    return f"{words.clock(line.t_s)}  " + "; ".join(part for part in told if part)


def connected_words(line: Line, unit: str, hidden: bool) -> str:
    """What was connected, told and true at a line, in words."""
    if hidden:
        return "not shown which is connected"
    said = [words.SOURCE[line.source]]
    if line.source == "stand_in":
        said.append(f"told {words.degrees(line.told_c, unit)}")
    true = "not measured" if line.true_c is None else words.degrees(line.true_c, unit)
    return ", ".join([*said, f"true {true}"])
