"""Learning what the watched lines mean: lines and states are named, then driven through and said.

The lesson asks for one state after another; somebody says each as it comes. Every saying is written into
the recording as a mark, so that a lesson which was left goes on another day, in another recording of
the same case.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from locum.errors import LocumError, Refused, Remark
from locum.jobs.context import ROLES
from locum.jobs.lesson_words import (
    LINE_EXAMPLE,
    PATTERN_EXAMPLE,
    line_of,
    line_said,
    line_words,
    outputs_of,
    pattern_words,
    state_of,
)
from locum.jobs.questions import Dialogue, Question
from locum.review.context import LineSpec
from locum.sheets.vehicle import VehicleSheet

MARK = "lesson"
"""Kind of the marks that keep a lesson with its recordings."""
ANEW = "anew"
"""The mark after which what was said before no longer counts."""
APART_MS = 1000
"""Two states are at least so far apart; less is a key that was hit twice. [ms]"""
ENOUGH = 2
"""A state is said so often before the lesson asks for none any more: twice, so that a slip shows."""
Levels = tuple[tuple[int, bool], ...]


@dataclass(frozen=True)
class Said:
    """One saying: this state stood at this moment of this recording."""

    drive_id: str
    t_ms: int
    state: str


def specs_of(vehicle: VehicleSheet | None) -> tuple[LineSpec, ...]:
    """Lines of a vehicle sheet."""
    return tuple(
        LineSpec(row.input, row.name, int(row.active == "high"), row.kind, ROLES[row.role],
                 row.debounce_ms)
        for row in (vehicle.lines if vehicle else ())
    )  # fmt: skip


class Lesson(Dialogue):
    """Lines, states and sayings so far.

    Parameters
    ----------
    vehicle : VehicleSheet, optional
        The sheet in use: its lines are known then, and its rule is kept.
    note : callable
        Takes each word that must be written into the recording.
    """

    def __init__(
        self, vehicle: VehicleSheet | None = None, note: Callable[[str], None] = lambda _words: None
    ) -> None:
        self.vehicle = vehicle
        self.note = note
        self.said: list[Said] = []
        super().__init__()

    # -- naming ----------------------------------------------------------------------------------

    def restart(self) -> None:
        self.specs = {spec.line: spec for spec in specs_of(self.vehicle)}
        """Number of a line -> what it is."""
        self.states: dict[str, Levels | None] = {}
        """Name of a state -> its pattern where it was typed by hand; the first is the held one."""
        self._asked = "line"

    @property
    def done(self) -> bool:
        """Everything is named; the driving begins."""
        return self._asked == ""

    @property
    def question(self) -> Question:
        specs = [self.specs[n] for n in sorted(self.specs)]
        if self._asked == "line":
            known = ", ".join(line_words(spec) for spec in specs)
            return Question(
                "line", "Which watch line is wired to what?" if not specs else "Another line?",
                (f"Known: {known}\n" if known else "")
                + f"{LINE_EXAMPLE}   3 brake   4 ignition feed   2 fan relay low other\n"
                "low: on when its volts are low. pwm: pulsed. other: tells no state.",
                "that is all" if outputs_of(specs) else "",
            )  # fmt: skip
        named = f"Named: {', '.join(self.states)}\n" if self.states else ""
        return Question(
            "state", "The state whose loss is the complaint: what is it called?" if not self.states
            else "Another state that will be driven through?",
            f"{named}top gear   third gear   clutch open: the vehicle's own words\n"
            f"By hand, not driven:  {PATTERN_EXAMPLE}",
            "that is all" if len(self.states) > 1 else "",
        )  # fmt: skip

    def take(self, name: str, line: str) -> str:
        if not line:
            return self._enough()
        if name == "line":
            spec = line_of(line)
            self._distinct(spec)
            self.specs[spec.line] = spec
            return line_said(spec)
        specs = outputs_of(list(self.specs.values()))
        state, levels = state_of(line, specs)
        if state.lower() in (known.lower() for known in self.states):
            raise Refused(
                Remark("state_twice", state, "each state once", "named before", "another name")
            )
        self.states[state] = levels
        held = "; its loss is what counts" if len(self.states) == 1 else ""
        if levels is None:
            return f"{state}{held}"
        return f"{state}: {pattern_words(levels, specs)}{held}"

    def _enough(self) -> str:
        if not self.question.enter:
            wanted = "a line that is commanded" if self._asked == "line" else "two states or more"
            raise Refused(Remark("too_few", self._asked, wanted, "fewer", "name one more"))
        self._asked = "state" if self._asked == "line" else ""
        if self.done:
            self._write_down()
        return "that is all"

    def _distinct(self, spec: LineSpec) -> None:
        same = [s for s in self.specs.values() if s.name.lower() == spec.name.lower()]
        if same and same[0].line != spec.line:
            raise Refused(Remark("line_twice", spec.name, "each name once",
                                 f"line {same[0].line} has it", "another name"))  # fmt: skip

    def _write_down(self) -> None:
        for number in sorted(self.specs):
            self.note(f"line {line_words(self.specs[number])}")
        for name, levels in self.states.items():
            by_hand = (
                "" if levels is None else f" = {pattern_words(levels, list(self.specs.values()))}"
            )
            self.note(f"state {name}{by_hand}")

    # -- driving ---------------------------------------------------------------------------------

    @property
    def to_drive(self) -> list[str]:
        """States that are learned by driving through them."""
        return [name for name, levels in self.states.items() if levels is None]

    @property
    def held(self) -> str:
        """The state whose loss counts."""
        return next(iter(self.states), "")

    def count(self, state: str) -> int:
        """How often it has been said."""
        return sum(said.state == state for said in self.said)

    @property
    def complete(self) -> bool:
        """Every state has been said often enough."""
        return all(self.count(name) >= ENOUGH for name in self.to_drive)

    def asked_for(self, after: str = "") -> str:
        """The state to come next: of those said least often the first after this one."""
        names = self.to_drive
        if not names:
            return ""
        at = names.index(after) + 1 if after in names else 0
        return min([*names[at:], *names[:at]], key=self.count)

    def say(self, state: str, drive_id: str, t_s: float) -> None:
        """This state stands now, so long after that recording began. [s]

        Raises Refused while nothing is recorded, and for another state in the same second: a key that
        was hit twice names no state.
        """
        if not drive_id:
            raise Refused(Remark("nothing_recorded", "lesson", "a running recording", "none",
                                 "open the board first: row board in Prepare"))  # fmt: skip
        t_ms = round(t_s * 1000)
        last = self.said[-1] if self.said else None
        if (
            last
            and last.drive_id == drive_id
            and last.state != state
            and t_ms - last.t_ms < APART_MS
        ):
            raise Refused(Remark("too_soon", state, "a second between two states",
                                 f"{last.state} a moment ago", "say it again if it is so"))  # fmt: skip
        self.said.append(Said(drive_id, t_ms, state))
        self.note(f"in {state}")

    def unsay(self) -> str:
        """Take the newest saying back; the state it named, empty where there was none."""
        if not self.said:
            return ""
        state = self.said.pop().state
        self.note(f"not {state}")
        return state

    # -- coming back to it -----------------------------------------------------------------------

    def recall(self, words: str, drive_id: str, t_ms: int) -> None:
        """Take in one mark of an earlier sitting; what is not understood is left out."""
        kind, _, rest = words.partition(" ")
        if kind == ANEW:
            self.said = []
            self.restart()
            return
        try:
            if kind == "line":
                spec = line_of(rest)
                self.specs[spec.line] = spec
            elif kind == "state":
                name, levels = state_of(rest, outputs_of(list(self.specs.values())))
                self.states[name] = levels
            elif kind == "in" and rest in self.states:
                self.said.append(Said(drive_id, t_ms, rest))
            elif kind == "not" and self.said:
                at = max((n for n, s in enumerate(self.said) if s.state == rest), default=-1)
                self.said.pop(at)
        except LocumError:
            return
        if len(self.states) > 1:
            self._asked = ""
