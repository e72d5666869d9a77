"""The words of the line-by-line mode: one for every key of the screens, and every line typed there.

Each is a function of the running :class:`~locum.ui.plain.Plain` and the rest of the line; what it
returns is printed. Nothing here waits.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from locum.errors import Misuse, Remark
from locum.jobs import cases_view
from locum.jobs.case_pages import export
from locum.jobs.evidence_view import look_at_case
from locum.jobs.next_drive import begun
from locum.jobs.typed import LINES, act_of
from locum.locations import data_folder
from locum.ui import words
from locum.ui.cases_text import case_line, drive_line, look_text
from locum.ui.evidence_text import TEXTS, next_text
from locum.ui.plain_calibrate import calibrate
from locum.ui.plain_instead import in_lines
from locum.ui.plain_keep import keep
from locum.ui.plain_prepare import HELP as PREPARE_HELP
from locum.ui.plain_prepare import WORDS as PREPARE_WORDS
from locum.ui.plain_status import status

if TYPE_CHECKING:
    from locum.ui.plain import Plain

HELP = (
    ("(an empty line)", "REAL SENSOR NOW, at once; also: real"),
    ("ease", "walk back to the real value, then the real sensor"),
    *LINES,
    ("cold, warm, threshold", "hold one of the values offered"),
    ("mark, mark 10, early", "felt just now, 10 s ago, or about to come"),
    ("foot, brake, road", "what a kick-out was"),
    ("yes, no", "anything felt in the stretch that is over"),
    ("note WORDS", "write a note into the record"),
    ("status", "what is connected, told, true, commanded, recorded; what to do next"),
    ("every 30", "a line every 30 s while nothing happens"),
    ("new", "close this recording and begin another"),
    ("start", "the guided start: five answers"),
    ("calibrate", "the board measures itself: what must be true, then: calibrate now"),
    *PREPARE_HELP,
    ("cases WORDS", "find cases; cases alone lists all"),
    ("case TITLE", "a new case, and this recording goes into it"),
    ("use ID", "use a case, by the end of its number"),
    ("found WORDS, repair WORDS", "the defect that was seen; what was repaired"),
    ("weigh, tests, suspects, moments", "how far the evidence reaches, and why"),
    ("keep NAME", "keep the case's longest glitch as a profile, to be given again: glitch NAME"),
    ("next", "start the next drive that would tell most"),
    ("pages, export", "write both pages of the case; all of it as plain files"),
    ("wait 30", "take the next line 30 s later (for scripts)"),
    ("quit", "leave; asks only while the stand-in is connected"),
)


def help_text(_plain: Plain, _rest: str) -> str:
    return "\n".join(f"{word:<28} {what}" for word, what in HELP)


def real(plain: Plain, _rest: str) -> str:
    plain.desk.real_sensor_now()
    return "asked: real sensor now"


def ease(plain: Plain, _rest: str) -> str:
    plain.desk.ease_back()
    return "asked: ease back"


def offer(name: str) -> Callable[[Plain, str], str]:
    def take(plain: Plain, _rest: str) -> str:
        for one in plain.desk.snapshot().offers:
            if one.name == name:
                plain.desk.ask("hold", f"{one.celsius:.1f}C", words=one.why)
                return f"asked: {words.degrees(one.celsius, plain.unit)}, {one.why}"
        return "that value is not known yet"

    return take


def mark(plain: Plain, rest: str) -> str:
    try:
        ago_s = float(rest) if rest else 0.0
    except ValueError:
        raise Misuse(Remark("mark", "mark", "mark, or mark 10 for ten seconds ago", rest)) from None
    plain.desk.mark("key", ago_s)
    return "marked: felt just now" if ago_s == 0 else f"marked: felt {ago_s:g} s ago"


def early(plain: Plain, _rest: str) -> str:
    plain.desk.mark("key", -5.0)
    return "marked: about to come"


def answer(kind: str) -> Callable[[Plain, str], str]:
    def give(plain: Plain, _rest: str) -> str:
        if not plain.desk.snapshot().awaits_answer:
            return "no kick-out waits for an answer"
        plain.desk.mark(kind)
        return words.MARK[kind]

    return give


def felt(yes: bool) -> Callable[[Plain, str], str]:
    def give(plain: Plain, _rest: str) -> str:
        plain.desk.ask("felt", yes)
        return words.MARK["felt" if yes else "not_felt"]

    return give


def note(plain: Plain, rest: str) -> str:
    plain.desk.mark("note", 0.0, rest)
    return f"noted: {rest}"


def every(plain: Plain, rest: str) -> str:
    try:
        plain.every_s = max(2.0, float(rest))
    except ValueError:
        raise Misuse(Remark("every", "every", "seconds, such as every 30", rest)) from None
    return f"a line every {plain.every_s:g} s while nothing happens"


def new(plain: Plain, _rest: str) -> str:
    plain.desk.reopen(plain.desk.setup)
    return "this recording is closed and kept; another begins"


def cases(plain: Plain, rest: str) -> str:
    found = cases_view.case_rows(rest, plain.desk.casebook)
    lines = [f"{case_line(row, row.id == plain.case_id)}  number {row.id[-6:]}" for row in found]
    if not rest:
        lines += [
            f"  filed nowhere: {drive_line(row)}"
            for row in cases_view.unfiled_rows(plain.desk.casebook)
        ]
    return "\n".join(lines) or "no case"


def case(plain: Plain, rest: str) -> str:
    plain.desk.use_case(cases_view.begin_case(rest, plain.desk.casebook))
    return f"case begun: {rest}"


def use(plain: Plain, rest: str) -> str:
    for row in cases_view.case_rows("", plain.desk.casebook):
        if rest and row.id.lower().endswith(rest.lower()):
            plain.desk.use_case(row.id)
            look = cases_view.look_into(row.id, plain.desk.casebook)
            return look_text(look, plain.desk.snapshot().drive_id)
    raise Misuse(Remark("case", "use", "the end of a case's number", f"'{rest}'", "type: cases"))


def add(kind: str) -> Callable[[Plain, str], str]:
    def write(plain: Plain, rest: str) -> str:
        cases_view.add_finding(plain.the_case(), kind, rest, plain.desk.casebook)
        return f"{words.FINDING[kind]}: {rest}"

    return write


WEIGHED = {
    "steps": "How far the evidence reaches, step by step:",
    "tests": "The exact tests behind the steps:",
    "suspects": "What can be said of each suspect:",
    "moments": "Kick-outs and glitches beside each other in time:",
}
"""Stands over what was weighed, so that its rows are understood."""


def weigh(what: str) -> Callable[[Plain, str], str]:
    def look(plain: Plain, _rest: str) -> str:
        view = look_at_case(plain.the_case(), plain.desk.casebook)
        told = [
            f"{view.title}: {view.sentence}",
            WEIGHED[what],
            TEXTS[what](view),
            in_lines(next_text(view)),
        ]
        return "\n".join(part for part in told if part)

    return look


def next_drive(plain: Plain, _rest: str) -> str:
    setup, act, told = begun(look_at_case(plain.the_case(), plain.desk.casebook), plain.desk.setup)
    if setup is not None:
        plain.desk.reopen(setup, act)
        return f"another recording begins: {told}"
    return told


def pages(plain: Plain, _rest: str) -> str:
    written = cases_view.write_pages(plain.the_case(), casebook=plain.desk.casebook)
    return "\n".join(f"written: {path}" for path in written)


def exported(plain: Plain, _rest: str) -> str:
    folder = str(data_folder() / "exports")
    done = export(plain.the_case(), out=folder, casebook=plain.desk.casebook)
    return f"exported to {done.body['out']}"


def typed(plain: Plain, line: str) -> str:
    """Any line that the Drive place takes."""
    glance = plain.desk.snapshot().glance
    act = act_of(line, plain.unit, glance.told_c if glance else None)
    plain.desk.ask(act.name, *act.arguments, words=act.words)
    return f"asked: {act.words or act.name}"


def start(plain: Plain, _rest: str) -> str:
    return plain.begin_start()


WORDS: dict[str, Callable[[Plain, str], str]] = {
    "help": help_text, "?": help_text, "": real, "real": real, "ease": ease, "mark": mark,
    "early": early, "foot": answer("foot"), "brake": answer("brake"), "road": answer("road"),
    "yes": felt(True), "no": felt(False), "note": note, "status": status, "every": every,
    "new": new, "cases": cases, "case": case, "use": use,
    "found": add("found"), "repair": add("repair"), "weigh": weigh("steps"),
    "tests": weigh("tests"), "suspects": weigh("suspects"), "moments": weigh("moments"),
    "calibrate": calibrate, "keep": keep, "next": next_drive, "pages": pages, "export": exported, "start": start,
    "cold": offer("cold"), "warm": offer("warm"), "threshold": offer("threshold"),
    **PREPARE_WORDS,
}  # fmt: skip
"""First word of a line -> what it does; any other line is a typed line of the Drive place."""
