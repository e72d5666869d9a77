"""Prepare line by line: its rows, what is typed there, the module's readings and the lines' lesson."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from locum.errors import LocumError, Misuse, Remark
from locum.jobs import lesson_learned
from locum.jobs.lesson import MARK, Lesson
from locum.jobs.module_kept import circuit_for, keep, look_at_result
from locum.jobs.module_readings import ModuleReadings
from locum.jobs.plan_look import at_hand, look_at_plan
from locum.jobs.prepare_line import WORDS as TYPED
from locum.jobs.prepare_line import changed_setup, understood
from locum.jobs.prepare_view import rows
from locum.ui import words
from locum.ui.lesson_text import asked_text, now_text, state_text, taught_text
from locum.ui.plain_instead import in_lines
from locum.ui.prepare_text import CAUTIONS, drawn_text, module_result_text, row_text

if TYPE_CHECKING:
    from locum.ui.plain import Plain

IN = 'Type "in"'
"""What is typed as the state that is asked for comes."""
HELP = (
    ("rows", "what must be true before anything is connected"),
    ("cautions, read", "the cautions; I have read them"),
    ("sensor, module, vehicle, reach, circuit, board, plan ...", "tell what is missing there"),
    ("sheets sensor", "the sheets at hand; also module, vehicle, profile"),
    ("readings", "measure the module: readings asked for one at a time"),
    ("lesson", "learn the vehicle's lines: name them, then drive through the states"),
    ("in, in STATE", "in a lesson: the state asked for, or that one, stands now"),
    ("unsay", "in a lesson: take the last saying back"),
    ("learned, take", "in a lesson: what was learned; use it from now on"),
    ("test", "the board looks at itself"),
)


def prepared(plain: Plain, _rest: str) -> str:
    now = plain.desk.snapshot()
    profile, circuit = now.setup.profile, now.circuit
    plan = look_at_plan(profile, circuit) if profile and circuit is not None else None
    found = rows(now, plain.cautions_read, plan, plain.unit)
    return "\n".join(in_lines(row_text(row)) for row in found)


def cautions(_plain: Plain, _rest: str) -> str:
    return CAUTIONS + "read: I have read them"


def read(plain: Plain, _rest: str) -> str:
    plain.cautions_read = True
    return "cautions read"


def tell(word: str) -> Callable[[Plain, str], str]:
    def change(plain: Plain, rest: str) -> str:
        line = f"{word} {rest}"
        setup = changed_setup(plain.desk.setup, line, plain.unit)
        drawn = drawn_text(line, setup, plain.desk.snapshot().circuit, plain.unit)
        plain.desk.tell(setup)
        return understood(setup, line, plain.unit) + ("\n" + drawn if drawn else "")

    return change


def sheets(_plain: Plain, rest: str) -> str:
    """The sheets of a kind by their names."""
    kind = {"plan": "profile"}.get(rest.lower(), rest.lower())
    if kind not in words.SHEET:
        raise Misuse(Remark("sheets", "sheets", ", ".join(words.SHEET), f"'{rest}'", "type one of them"))  # fmt: skip
    return "\n".join(f"{one.name:<26} {one.title}" for one in at_hand(kind))


def self_test(plain: Plain, _rest: str) -> str:
    plain.desk.ask("self_test", words="self-test")
    return "asked: the board looks at itself; rows tells what it found"


# -- the module's readings -------------------------------------------------------------------------


def readings(plain: Plain, _rest: str) -> str:
    asked = ModuleReadings()
    return plain.ask(asked, lambda: measured(plain, asked))


def measured(plain: Plain, asked: ModuleReadings) -> str:
    """What the readings mean; kept, and used where nothing speaks against it."""
    result = asked.result
    assert result is not None  # the last answer is not taken before there is one
    base = plain.desk.snapshot().circuit or circuit_for(plain.desk.setup)
    seen = look_at_result(asked.open_v, asked.loads, result, base)
    told = module_result_text(result, seen, plain.unit)
    case_id = plain.case_id
    try:
        setup = keep(plain.desk.setup, asked.open_v, asked.loads, case_id, plain.desk.casebook)
    except LocumError:
        return f"{told}\nthe stand-in is not to be connected there: only listen"
    plain.desk.tell(setup)
    where = "with the case" if case_id else "in the workshop's sheets, and with the recording"
    return f"{told}\nkept {where}; used from now on, in a new recording"


# -- the lesson of the lines -----------------------------------------------------------------------


def lesson(plain: Plain, rest: str) -> str:
    """Begin it, or go on with the one that was left; ``lesson anew`` forgets that one."""

    def note(said: str) -> None:
        plain.desk.mark(MARK, 0.0, said)

    circuit = plain.desk.snapshot().circuit
    vehicle = circuit.vehicle if circuit else None
    if rest.lower() == "anew":
        plain.lesson = Lesson(vehicle, note)
    elif plain.lesson is None:
        plain.lesson = lesson_learned.resumed(plain.case_id, vehicle, note, plain.desk.casebook)
    begun = plain.lesson
    return driving(plain) if begun.done else plain.ask(begun, lambda: driving(plain))


def driving(plain: Plain) -> str:
    """Which state is asked for, what the lines show, and how often each was said."""
    going, now = the_lesson(plain), plain.desk.snapshot()
    states = [f"  {state_text(going, state, now)}" for state in going.states]
    asked = asked_text(going, going.asked_for(going.said[-1].state if going.said else ""), IN)
    return "\n".join([asked, now_text(going, now), *states])


def the_lesson(plain: Plain) -> Lesson:
    """The one under way; Misuse if there is none."""
    if plain.lesson is None or not plain.lesson.done:
        raise Misuse(
            Remark("no_lesson", "", "a lesson of the lines under way", "none", "type: lesson")
        )
    return plain.lesson


def stands(plain: Plain, rest: str) -> str:
    """The state asked for, or the one named, stands now."""
    going, now = the_lesson(plain), plain.desk.snapshot()
    last = going.said[-1].state if going.said else ""
    found = [name for name in going.to_drive if name.lower().startswith(rest.lower())]
    state = going.asked_for(last) if not rest else found[0] if len(found) == 1 else ""
    if not state:
        raise Misuse(Remark("state", "in", "one of " + ", ".join(going.to_drive), f"'{rest}'",
                            "type its beginning"))  # fmt: skip
    at_s = now.glance.t_s if now.glance else 0.0
    going.say(state, now.drive_id if now.phase == "recording" else "", at_s)
    return f"said: {state}\n{asked_text(going, going.asked_for(state), IN)}"


def unsay(plain: Plain, _rest: str) -> str:
    state = the_lesson(plain).unsay()
    return f"taken back: {state}" if state else "nothing was said yet"


def learned(plain: Plain, _rest: str) -> str:
    found = lesson_learned.taught(the_lesson(plain), plain.desk.casebook)
    return taught_text(found, "take uses it")


def take(plain: Plain, _rest: str) -> str:
    found = lesson_learned.taught(the_lesson(plain), plain.desk.casebook)
    setup = lesson_learned.keep(plain.desk.setup, found, plain.case_id, plain.desk.casebook)
    plain.desk.tell(setup)
    where = "with the case" if plain.case_id else "in the workshop's sheets, and with the recording"
    return f"kept {where}; used from now on, in a new recording"


WORDS: dict[str, Callable[[Plain, str], str]] = {
    "rows": prepared, "cautions": cautions, "read": read, "sheets": sheets, "readings": readings, "lesson": lesson,
    "in": stands, "unsay": unsay, "learned": learned, "take": take, "test": self_test,
    **{word: tell(word) for word in TYPED},
}  # fmt: skip
