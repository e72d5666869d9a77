"""The same job line by line: for pipes, screen readers and terminals that can do nothing.

Lines are read from standard input and printed to standard output; no cursor moves, nothing is drawn
over. A running line is printed when something happened or changed, otherwise every ten seconds. An
empty line brings the real sensor at once, Ctrl-C does and leaves, and the end of the input eases back
and leaves.
"""

from __future__ import annotations

import queue
import sys
import threading
import time
from collections.abc import Callable, Iterable

from locum.errors import LocumError, Misuse, Remark
from locum.jobs.desk import Asked, Desk
from locum.jobs.desk_facts import Setup
from locum.jobs.first_start import FirstStart, is_virtual, is_wanted
from locum.jobs.interrupts import Interrupts
from locum.jobs.lesson import Lesson
from locum.jobs.questions import Dialogue
from locum.settings import Settings, load_settings
from locum.ui.plain_dialogue import LEAVE, answered, question_text
from locum.ui.plain_telling import Telling
from locum.ui.plain_words import WORDS, typed

LOOK_S = 0.1
GONE_S, CLOSING_S = 0.5, 15.0
WAY_HOME_S = 30.0
LEAVING = ("y", "yes", "n", "no", "stay")


class Plain(Telling):
    """One sitting, line by line."""

    def __init__(self, desk: Desk, settings: Settings, say: Callable[[str], None] = print) -> None:
        super().__init__(desk, settings.unit, say)
        self.settings = settings
        self.cautions_read = False
        self.dialogue: Dialogue | None = None
        """Questions that take the next lines; None while lines are orders."""
        self.lesson: Lesson | None = None
        """Vehicle lines being learned."""
        self._finished: Callable[[], str] = str
        self._typed: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._asked_to_leave = False
        self._leaving_s: float | None = None
        self._wait_s, self._wait_until_s = 0.0, None
        self._wait_drive, self._wait_from = "", None
        desk.on_kick_out = lambda: None

    # -- reading ---------------------------------------------------------------------------------

    def read_from(self, lines: Iterable[str]) -> None:
        """Take lines until they end; runs in a thread of its own."""
        for line in lines:
            self._typed.put(line.rstrip("\r\n"))
        self._typed.put(None)

    def take(self, line: str | None) -> None:
        """One line as typed; None is the end of the input."""
        if line is None:
            self.say("No more lines: easing back to the real sensor if need be, then leaving.")
            self.leave()
            return
        try:
            told = self._answered(line)
        except LocumError as error:
            told = str(error)
        if told:
            self.say(told)

    def _answered(self, line: str) -> str:
        text = " ".join(line.split())
        word, _, rest = text.partition(" ")
        word = word.lower()
        asked, self._asked_to_leave = self._asked_to_leave, False
        if asked and word in LEAVING:
            return self._leaving(word)
        if word in ("quit", "q"):
            return self._quit()
        if self.dialogue is not None:
            return self._answered_question(self.dialogue, text)
        if word == "wait":
            return self._wait(rest)
        act = WORDS.get(word)
        return act(self, rest) if act else typed(self, text)

    def _wait(self, rest: str) -> str:
        try:
            seconds = float(rest)
        except ValueError:
            raise Misuse(Remark("wait", "wait", "seconds, such as wait 30", f"'{rest}'")) from None
        self._wait_s = seconds
        return ""

    def _waits(self) -> bool:
        """Whether the next line has to wait for time to pass on the board, in the recording that is
        under way or about to begin."""
        told = self.desk.told
        if self._wait_s <= 0 or told.phase in ("failed", "ended"):
            return False
        if not self.desk.settled:
            return True
        if told.drive_id != self._wait_drive:
            self._wait_drive, self._wait_from, self._wait_until_s = told.drive_id, told.glance, None
        if told.glance is self._wait_from or told.glance is None:  # not yet looked at
            return True
        if self._wait_until_s is None:
            self._wait_until_s = told.glance.t_s + self._wait_s
        if told.glance.t_s < self._wait_until_s:
            return True
        self._wait_s, self._wait_drive = 0.0, ""
        return False

    def _quit(self) -> str:
        snapshot = self.desk.snapshot()
        away = snapshot.glance is not None and snapshot.glance.standing_in
        if snapshot.phase == "recording" and (away or snapshot.hidden):
            self._asked_to_leave = True
            why = "An unseen test runs." if snapshot.hidden else "The stand-in is connected."
            return (
                f"{why} y: ease back and leave; an empty line: REAL SENSOR NOW; "
                "stay, or any other line: not leaving."
            )
        self.leave()
        return ""

    def _leaving(self, word: str) -> str:
        """The answer to whether to leave; other lines do what they always do, and nobody leaves."""
        if word not in ("y", "yes"):
            return "not leaving; nothing has changed"
        self.leave()
        return "easing back to the real sensor, then leaving"

    def leave(self) -> None:
        self._leaving_s = time.monotonic()
        self.desk.leave()

    # -- questions one at a time -----------------------------------------------------------------

    def ask(self, dialogue: Dialogue, finished: Callable[[], str], head: str = "") -> str:
        """Take the next lines as answers; ``finished`` is called after the last one."""
        self.dialogue, self._finished = dialogue, finished
        return f"{head}{question_text(dialogue)}"

    def begin_start(self) -> str:
        virtual = is_virtual(self.desk.setup, self.settings)
        start = FirstStart(self.desk.setup, self.unit, virtual)
        head = "No board is plugged in: this is the virtual one, in an invented van.\n"
        return self.ask(start, lambda: self._started(start), head if virtual else "")

    def _started(self, start: FirstStart) -> str:
        if not start.listening:
            self.desk.reopen(start.setup(), Asked("hold", (start.hold,), start.hold_words))
        return "(an empty line is now: REAL SENSOR NOW; help tells the rest)"

    def _answered_question(self, dialogue: Dialogue, text: str) -> str:
        if text in LEAVE:
            self.dialogue = None
            return "left; what was asked can be begun again"
        told = answered(dialogue, text)
        if not dialogue.done:
            return told
        self.dialogue = None
        return f"{told}\n{self._finished()}"

    def the_case(self) -> str:
        """The case in use; Misuse if there is none."""
        if self.case_id is None:
            raise Misuse(Remark("no_case", "", "a case in use", "none",
                                "type: case TITLE for a new one, or: cases, then use"))  # fmt: skip
        return self.case_id

    @property
    def case_id(self) -> str | None:
        return self.desk.snapshot().case_id or self.desk.setup.case

    # -- the loop --------------------------------------------------------------------------------

    def run(self) -> int:
        """Until somebody leaves; Ctrl-C is the real sensor now, and leaving."""
        self.say("locum, line by line. help tells the words; an empty line: REAL SENSOR NOW.")
        if is_wanted(self.desk.setup, self.settings):
            self.say(self.begin_start())
        self.desk.open()
        with Interrupts() as pressed:
            while not pressed.count:
                if self._gone():
                    self.desk.close(0.2)
                    self.look()
                    return 0
                self._one_turn()
        self.desk.real_sensor_now()
        self.desk.close(2.0)
        self.say("\nCtrl-C: real sensor, and the record is closed.")
        return 0

    def _one_turn(self) -> None:
        try:
            if self._waits():
                time.sleep(LOOK_S)
            else:
                self.take(self._typed.get(timeout=LOOK_S))
        except queue.Empty:
            pass
        self.look()

    def _gone(self) -> bool:
        if self._leaving_s is None:
            return False
        snapshot = self.desk.told
        since = time.monotonic() - self._leaving_s
        away = snapshot.glance is not None and snapshot.glance.standing_in
        patience = CLOSING_S if snapshot.phase == "closing" else GONE_S
        over = since > (WAY_HOME_S if away else patience)
        return over or snapshot.phase in ("ended", "lost", "failed", "closed")


def run(setup: Setup) -> int:
    """Read standard input line by line until it ends or somebody leaves; the exit code."""
    settings = load_settings()
    plain = Plain(Desk(setup, settings), settings, lambda text: print(text, flush=True))
    threading.Thread(target=plain.read_from, args=(sys.stdin,), daemon=True).start()
    return plain.run()
