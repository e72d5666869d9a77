"""What a lesson has taught: patterns in words, what is still unclear, and the vehicle sheet of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from locum.casebook.store import Store
from locum.errors import LocumError, Refused, Remark
from locum.jobs.cases import open_casebook
from locum.jobs.desk_facts import Setup
from locum.jobs.files import write_text
from locum.jobs.learning import edges_of, vehicle_text
from locum.jobs.lesson import ENOUGH, MARK, Lesson
from locum.jobs.lesson_words import outputs_of, pattern_words
from locum.locations import workshop_sheets
from locum.review.context import LineSpec, StatePattern
from locum.review.learn import Learned, learn_over
from locum.sheets.vehicle import VehicleSheet, read_vehicle

STOOD_S = 5.0
"""A pattern that nobody named is told once it stood so long altogether. [s]"""
UNSTEADY = "the lines were not the same each time it was said: say it again in steady driving"
ADVICE = {
    "no_level": "no line had a level then: is the ignition on, is the line wired?",
    "unsteady": UNSTEADY,
    "same_pattern": "the lines are the same in both: watch another line, or call them one state",
    "flickers": "it changes many times a second: name it again with pwm or peak-hold after its name",
}
"""Code of a doubt -> what it means for whoever drives."""


@dataclass(frozen=True)
class TaughtState:
    """One state, as far as it is known."""

    name: str
    pattern: str
    """Its lines in words; empty while it is not known."""
    said: int
    held: bool
    by_hand: bool


@dataclass(frozen=True)
class Taught:
    """What is known of the lines by now."""

    states: tuple[TaughtState, ...]
    unclear: tuple[str, ...]
    """What must still be cleared up, one sentence each; empty where all is clear."""
    sheet: str = ""
    """The vehicle sheet; empty while it cannot be used."""

    @property
    def usable(self) -> bool:
        return bool(self.sheet)


def taught(lesson: Lesson, casebook: str | None = None) -> Taught:
    """What the lesson's sayings and patterns come to; reads the recordings they were made in."""
    specs = [lesson.specs[n] for n in sorted(lesson.specs)]
    drives = list(dict.fromkeys(said.drive_id for said in lesson.said))
    with open_casebook(casebook) as store:
        parts = [(edges_of(store, drive), _said_in(lesson, drive)) for drive in drives]
    learnt = learn_over(specs, parts, (lesson.held,))
    patterns = [*learnt.patterns, *_by_hand(lesson)]
    order = list(lesson.states)
    patterns.sort(key=lambda pattern: order.index(pattern.name))
    known = {pattern.name: pattern_words(pattern.levels, specs) for pattern in patterns}
    states = tuple(
        TaughtState(name, known.get(name, ""), lesson.count(name), name == lesson.held, levels is not None)
        for name, levels in lesson.states.items()
    )  # fmt: skip
    unclear = [*_unsaid(lesson), *_doubts(learnt, specs), *_stood(learnt, specs)]
    sheet, faults = _sheet(specs, patterns, learnt, lesson.vehicle)
    return Taught(states, (*unclear, *faults), sheet)


def _said_in(lesson: Lesson, drive_id: str) -> list[tuple[int, str]]:
    return [(said.t_ms, said.state) for said in lesson.said if said.drive_id == drive_id]


def _by_hand(lesson: Lesson) -> list[StatePattern]:
    return [
        StatePattern(name, levels, held=name == lesson.held)
        for name, levels in lesson.states.items()
        if levels is not None
    ]


def _unsaid(lesson: Lesson) -> list[str]:
    made = []
    for name in lesson.to_drive:
        count = lesson.count(name)
        if count == 0:
            made.append(f"{name}: not driven yet.")
        elif count < ENOUGH:
            made.append(f"{name}: said once only; a second time would show a slip.")
    return made


def _doubts(learnt: Learned, specs: Sequence[LineSpec]) -> list[str]:
    names = {f"line {spec.line}": spec.name for spec in specs}
    made = []
    for remark in learnt.remarks:
        where = names.get(remark.where, remark.where.removeprefix("states ").removeprefix("state "))
        made.append(f"{where}: {ADVICE.get(remark.code, remark.text)}.")
    return made


def _stood(learnt: Learned, specs: Sequence[LineSpec]) -> list[str]:
    """Patterns that stood for a while and that nobody gave a name."""
    outputs = outputs_of(specs)
    if not learnt.patterns:
        return []
    made = []
    for bits, seconds in sorted(learnt.seconds.items(), key=lambda item: -item[1]):
        if seconds >= STOOD_S:
            levels = [(spec.line, bit == "1") for spec, bit in zip(outputs, bits, strict=True)]
            made.append(
                f"{pattern_words(levels, specs)}: stood for {seconds:.0f} s, nobody named it."
            )
    return made


def _sheet(
    specs: list[LineSpec], patterns: list[StatePattern], learnt: Learned, before: VehicleSheet | None
) -> tuple[str, list[str]]:  # fmt: skip
    """The sheet, and why there is none yet."""
    if not patterns:
        return "", []
    whole = replace(learnt, patterns=tuple(patterns))
    text = vehicle_text(specs, whole, "Learned by driving through the states", before)
    try:
        read_vehicle(text, "learned")
    except LocumError as error:
        return "", [_why_not(remark) for remark in error.remarks]
    return text, []


def _why_not(remark: Remark) -> str:
    if remark.code == "no_top":
        return "The first state, whose loss counts, has no pattern yet: nothing can be used before."
    if remark.code == "ambiguous":
        return f"{remark.found}: name one more line in each."
    return remark.text


def keep(
    setup: Setup, found: Taught, case_id: str | None = None, casebook: str | None = None,
    now: datetime | None = None,
) -> Setup:  # fmt: skip
    """The learned sheet kept with the case if there is one, in the workshop's folder, and used.

    Raises Refused while there is nothing that can be used.
    """
    if not found.usable:
        raise Refused(Remark("nothing_learned", "lesson", "a pattern for the first state", "none yet",
                             "drive through it once more, or type it by hand"))  # fmt: skip
    name = f"learned-{(now or datetime.now(UTC)):%Y-%m-%d-%H%M%S}"
    path = workshop_sheets() / "vehicles" / f"{name}.toml"
    write_text(path, found.sheet)
    if case_id:
        with open_casebook(casebook) as store:
            store.attach_sheet(store.case_id_from(case_id), "vehicle", name, found.sheet)
    return replace(setup, vehicle=str(path))


def resumed(
    case_id: str | None,
    vehicle: VehicleSheet | None,
    note: Callable[[str], None],
    casebook: str | None = None,
) -> Lesson:
    """The lesson of the case as it was left, else a new one."""
    found = None
    if case_id:
        with open_casebook(casebook) as store:
            found = _recalled(store, store.case_id_from(case_id), vehicle, note)
    return found or Lesson(vehicle, note)


def _recalled(
    store: Store, case_id: str, vehicle: VehicleSheet | None, note: Callable[[str], None]
) -> Lesson | None:
    """The lesson that the recordings of a case hold; None where none was begun in them."""
    lesson = Lesson(vehicle, note)
    marks = [(d.id, m) for d in store.drives(case_id) for m in d.marks if m.kind == MARK]
    for drive_id, mark in marks:
        lesson.recall(mark.note, drive_id, mark.t_ms)
    return lesson if lesson.done else None
