"""The desk: what the screens sit at. One worker thread owns board and record; keys only ask.

Screens call the methods below from their own thread and read :meth:`Desk.snapshot`, which never
waits. Asking puts an act into a queue; *ease back* and *real sensor now* do not queue: they are
looked for at every tick (a tenth of a second), also in the middle of another act, and end it.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from locum.casebook.store import Store
from locum.errors import LinkTrouble, LocumError, Remark
from locum.flag import Flag
from locum.jobs.desk_acts import QUICK
from locum.jobs.desk_facts import Setup, Snapshot
from locum.jobs.desk_keys import KEPT_REMARKS
from locum.jobs.desk_opening import opened
from locum.jobs.desk_session import DeskLive, Session
from locum.jobs.files import disk_trouble
from locum.jobs.log import note_crash
from locum.jobs.veil import veiled
from locum.locations import casebook_path
from locum.settings import Settings

__all__ = ["Asked", "Desk", "Setup", "Snapshot"]

RETRY_S = 1.0
"""A board that was lost is looked for so often. [s]"""


@dataclass
class Asked:
    """One act in the queue."""

    name: str
    arguments: tuple[Any, ...] = ()
    words: str = ""


class Desk:
    """One person's sitting, over as many recordings as it takes."""

    def __init__(self, setup: Setup, settings: Settings) -> None:
        self.setup = setup
        self.settings = settings
        self.session: Session | None = None
        self.asked: queue.SimpleQueue[Asked] = queue.SimpleQueue()
        self.quick: queue.SimpleQueue[Asked] = queue.SimpleQueue()
        """Marks, answers and the like: they wait for no act in progress."""
        self.told = Snapshot(setup)
        """Everything as it is; screens get :meth:`snapshot`, from which a test may hide things."""
        self._seen = self.told
        self._showing = threading.Lock()
        self._urgent = ""
        self._closing = Flag()
        self._renew = Flag()
        self._leaving = False
        self._then: Asked | None = None
        self._sat_at: tuple[str | None, ...] = ()
        """The port of the session before; a board lost while the next one opens is looked for too."""
        self._thread: threading.Thread | None = None
        self.on_kick_out: Callable[[], None] = lambda: None
        """Called in the worker's thread; a screen posts itself a message from it."""

    # -- called by screens -----------------------------------------------------------------------

    def snapshot(self) -> Snapshot:
        return self._seen

    @property
    def live(self) -> DeskLive | None:
        return self.session.live if self.session else None

    @property
    def casebook(self) -> str | None:
        return self.setup.casebook or self.settings.casebook or None

    @property
    def settled(self) -> bool:
        """Whether a recording is under way and no other one is about to take its place."""
        now = self.told
        begun = now.phase not in ("closed", "opening", "closing")
        return begun and not self._renew.is_set()

    def open(self) -> None:
        """Connect and begin to record (listening); returns at once."""
        if self._thread is None or not self._thread.is_alive():
            self._closing.clear()
            self._thread = threading.Thread(target=self._work, name="locum-desk", daemon=True)
            self._thread.start()

    def reopen(self, setup: Setup, then: Asked | None = None) -> None:
        """Real sensor, end of this record, and another with this setup; returns at once.

        ``then`` is asked for once the new record has begun.
        """
        self._forget_waiting()
        self.setup, self._then = setup, then
        self._renew.set()

    def tell(self, setup: Setup) -> None:
        """Take over a setup: a new session where the circuit or the board is another one."""
        now = self.setup
        if replace(setup, reach=now.reach, profile=now.profile) == now:
            self.setup = setup
            told = replace(self.told.setup, reach=setup.reach, profile=setup.profile)
            self.show(setup=told)
        else:
            self.reopen(setup)

    def use_case(self, case_id: str) -> None:
        """File the running recording under a case; where it is filed under another, begin a new one.

        What was told of sensor, module and vehicle belongs to the car before and is dropped then.
        """
        if self.told.phase == "recording" and self.told.case_id is None:
            self.ask("file", case_id)
        elif case_id != self.told.case_id:
            self.reopen(replace(self.setup, case=case_id, kind="listen", sensor=None, module=None,
                                vehicle=None, circuit="", reach=""))  # fmt: skip

    def close(self, timeout_s: float = 2.0) -> None:
        """Real sensor, end of record, link closed; waits at most so long. [s]"""
        self._closing.set()
        if self._thread is not None:
            self._thread.join(timeout_s)

    def leave(self) -> None:
        """Ease back if need be, then close; returns at once."""
        self._leaving = True
        self.ease_back()

    def ask(self, act: str, *arguments: Any, words: str = "") -> None:
        """Ask for an act of ``desk_acts.ACTS``; refusals appear in the snapshot's remarks."""
        where = self.quick if act in QUICK else self.asked
        where.put(Asked(act, arguments, words))

    def ease_back(self) -> None:
        self._forget_waiting()
        self._urgent = self._urgent or "ease"

    def real_sensor_now(self) -> None:
        self._forget_waiting()
        self._urgent = "now"

    def _forget_waiting(self) -> None:
        """What was asked for before a way back must not connect the stand-in again after it."""
        self._then = None
        with suppress(queue.Empty):
            while True:
                self.asked.get_nowait()

    def mark(self, kind: str = "key", ago_s: float = 0.0, note: str = "") -> None:
        """Something felt, or the answer to a bell: key foot brake road note."""
        self.ask("mark", kind, ago_s, note)

    # -- called by the session -------------------------------------------------------------------

    def show(self, **changes: Any) -> None:
        """Publish; what an unseen test hides does not get out."""
        with self._showing:
            self.told = replace(self.told, **changes)
            self._seen = veiled(self.told)

    def wants_out(self, at_rest: bool) -> bool:
        """Whether the session is to end: at once, or once the way home has ended."""
        gone = at_rest or self.told.phase == "lost"
        return self._closing.is_set() or self._renew.is_set() or (self._leaving and gone)

    def take_urgent(self) -> str:
        """The urgent key pressed since the last tick: now, ease or nothing."""
        urgent, self._urgent = self._urgent, ""
        if self._closing.is_set() or self._renew.is_set():
            return "now"
        return urgent

    # -- the worker ------------------------------------------------------------------------------

    def _work(self) -> None:
        try:
            with Store.open(Path(self.casebook or casebook_path())) as store:
                while not (self._closing.is_set() or self._leaving):
                    self._renew.clear()
                    self._sit(store)
        except LocumError as error:
            self._remark(*error.remarks)
        except OSError as error:  # the disk is full, the casebook's folder has gone
            self._remark(*disk_trouble(error).remarks)
        except Exception as error:  # the worker's last guard: the screens must be able to say so
            where = note_crash(error)
            self._remark(Remark("unforeseen", "desk", "to go on", f"{type(error).__name__}: {error}",
                                f"details are in {where}"))  # fmt: skip
        self.show(phase="ended", doing="")

    def _sit(self, store: Store) -> None:
        """One session; afterwards wait for another setup, or for a lost board to answer again."""
        if self.told.phase != "lost":
            self.show(phase="opening")
        try:
            with opened(self, store) as self.session:
                self._sat_at = (self.setup.board,)
                if self._then is not None:
                    self.asked.put(self._then)
                    self._then = None
                self.session.serve()
            return
        except LinkTrouble as trouble:
            self._then = None  # what was to follow at once must not come whenever the board does
            known = self._sat_at == (self.setup.board,)
            lost = self.session is not None or self.told.phase == "lost" or known
            self._trouble("lost" if lost else "failed", trouble)
        except LocumError as error:
            self._trouble("failed", error)
        finally:
            self.session = None
        retry = self.told.phase == "lost" and not self.told.virtual
        self._pause(RETRY_S if retry else None)

    def _trouble(self, phase: str, error: LocumError) -> None:
        if self.told.phase != phase or phase == "failed":
            self._remark(*error.remarks)
        self.show(phase=phase)

    def _pause(self, seconds: float | None) -> None:
        waited = 0.0
        while not (self._closing.is_set() or self._leaving) and (
            seconds is None or waited < seconds
        ):
            if self._renew.wait(0.1):
                return
            waited += 0.1

    def _remark(self, *remarks: Remark) -> None:
        self.show(remarks=(*self.told.remarks, *remarks)[-KEPT_REMARKS:])
