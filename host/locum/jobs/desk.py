"""The desk: what the screens sit at. One worker thread owns board and record; keys only ask.

Screens call the methods below from their own thread and read :meth:`Desk.snapshot`, which never
waits. Asking puts an act into a queue; *ease back* and *real sensor now* do not queue: they are
looked for at every tick (a tenth of a second), also in the middle of another act, and end it.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from locum.casebook.store import Store
from locum.errors import LinkTrouble, LocumError, Remark
from locum.jobs import desk_acts, standing
from locum.jobs.calibrated import with_calibration
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.connection import Connection, connect
from locum.jobs.errand import case_sheets
from locum.jobs.glance import Glance
from locum.jobs.lines import Event, Line, Lines
from locum.jobs.live import Live, begin
from locum.jobs.log import logger, note_crash
from locum.locations import casebook_path
from locum.review.findings import Findings
from locum.settings import Settings

TICK_S = 0.1


class Stopped(Exception):
    """An urgent key ended the act in progress."""


@dataclass(frozen=True)
class Setup:
    """What the desk works with: names as a person gave them, None for not told."""

    sensor: str | None = None
    module: str | None = None
    vehicle: str | None = None
    board_sheet: str | None = None
    board: str | None = None
    case: str | None = None
    casebook: str | None = None
    seed: int = 1
    speed: float = 1.0
    """Virtual board only; times real time."""


@dataclass(frozen=True)
class Snapshot:
    """Everything a screen may show, as it stood at the last tick."""

    setup: Setup
    phase: str = "closed"
    """closed, opening, recording, lost (the link is gone), ended."""
    doing: str = ""
    """The act in progress: listen, hold, sweep, replay, follow, open, short, glitch, return."""
    doing_words: str = ""
    """Its value as typed, such as ``82C``."""
    glance: Glance | None = None
    lines: tuple[Line, ...] = ()
    drive_id: str = ""
    case_id: str | None = None
    board: str = ""
    virtual: bool = False
    circuit_remarks: tuple[Remark, ...] = ()
    remarks: tuple[Remark, ...] = ()
    """The newest refusals or troubles, oldest first."""
    ticks: int = 0
    awaits_answer: bool = False
    """A kick-out has just been rung: one key says foot, brake or road."""
    last_kick_out: Event | None = None
    hidden: bool = False
    """An unseen swap test runs: nothing may tell which is connected."""


@dataclass
class _Asked:
    name: str
    arguments: tuple[Any, ...] = ()
    words: str = ""


class DeskLive(Live):
    """A recording whose every tick also serves the desk."""

    desk: Desk

    def tick(self, seconds: float = TICK_S) -> Findings:
        found = super().tick(min(seconds, TICK_S))
        self.desk.after_tick(found)
        return found


class Desk:
    """One person's session with one board."""

    def __init__(self, setup: Setup, settings: Settings) -> None:
        self.setup = setup
        self.settings = settings
        self.live: DeskLive | None = None
        self._snapshot = Snapshot(setup)
        self._asked: queue.SimpleQueue[_Asked] = queue.SimpleQueue()
        self._urgent = ""
        self._closing = threading.Event()
        self._thread: threading.Thread | None = None
        self._lines = Lines()
        self._notes: list[Event] = []
        self.on_kick_out: Callable[[], None] = lambda: None
        """Called in the worker's thread; a screen posts itself a message from it."""

    # -- called by screens -----------------------------------------------------------------------

    def snapshot(self) -> Snapshot:
        return self._snapshot

    def open(self) -> None:
        """Connect and begin to record (listening); returns at once."""
        if self._thread is None or not self._thread.is_alive():
            self._closing.clear()
            self._thread = threading.Thread(target=self._work, name="locum-desk", daemon=True)
            self._thread.start()

    def close(self, timeout_s: float = 2.0) -> None:
        """Real sensor, end of record, link closed; waits at most so long. [s]"""
        self._closing.set()
        if self._thread is not None:
            self._thread.join(timeout_s)

    def ask(self, act: str, *arguments: Any, words: str = "") -> None:
        """Ask for an act of ``desk_acts.ACTS``; refusals appear in the snapshot's remarks."""
        self._asked.put(_Asked(act, arguments, words))

    def ease_back(self) -> None:
        self._urgent = self._urgent or "ease"

    def real_sensor_now(self) -> None:
        self._urgent = "now"

    def mark(self, kind: str = "key", ago_s: float = 0.0) -> None:
        """Something felt, or the answer to a bell: key foot brake road felt not_felt."""
        self.ask("mark", kind, ago_s)

    # -- the worker ------------------------------------------------------------------------------

    def _work(self) -> None:
        try:
            with Store.open(
                Path(self.setup.casebook or self.settings.casebook or casebook_path())
            ) as store:
                self._serve(store)
        except LocumError as error:
            self._show(phase="ended", remarks=(*self._snapshot.remarks, *error.remarks))
        except Exception as error:  # the worker's last guard: the screens must be able to say so
            where = note_crash(error)
            remark = Remark("unforeseen", "desk", "to go on", str(error), f"details are in {where}")
            self._show(phase="ended", remarks=(*self._snapshot.remarks, remark))

    def _serve(self, store: Store) -> None:
        self._show(phase="opening")
        case_id = store.case_id_from(self.setup.case) if self.setup.case else None
        sheets = case_sheets(store, case_id)
        s = self.setup
        circuit = open_circuit(
            s.sensor or sheets.get("sensor", (None,))[0], s.module or sheets.get("module", (None,))[0],
            s.vehicle or sheets.get("vehicle", (None,))[0], s.board_sheet, dict(sheets.values()),
        )  # fmt: skip
        connection = connect(s.board, circuit.board, s.seed, s.speed)
        try:
            circuit = with_calibration(store, connection, circuit)
            self._record(store, case_id, circuit, connection)
        finally:
            connection.close()

    def _record(self, store: Store, case_id, circuit: Circuit, connection: Connection) -> None:
        live = begin(connection, circuit, store, "listen", case_id, {"from": "screens"}, DeskLive)
        assert isinstance(live, DeskLive)
        live.desk, self.live = self, live
        standing.set_lines(live)
        self._show(
            phase="recording", doing="listen", drive_id=live.drive_id, case_id=case_id,
            board=f"{connection.identity.model} {connection.identity.serial}",
            virtual=connection.virtual, circuit_remarks=circuit.remarks,
        )  # fmt: skip
        how = "done"
        try:
            while not self._closing.is_set():
                self._one_act(live)
        except LinkTrouble as trouble:
            how = "link_lost"
            self._show(phase="lost", remarks=(*self._snapshot.remarks, *trouble.remarks))
        finally:
            self._finish(live, how)

    def _one_act(self, live: DeskLive) -> None:
        try:
            asked = self._asked.get_nowait()
        except queue.Empty:
            asked = None
        try:
            if asked is None:
                live.tick()
            else:
                desk_acts.perform(self, live, asked.name, asked.arguments, asked.words)
        except Stopped:
            self._show(doing="listen", doing_words="")
        except LinkTrouble:
            raise
        except LocumError as error:
            logger().info("refused: %s", error)
            self._show(
                doing="listen",
                doing_words="",
                remarks=(*self._snapshot.remarks, *error.remarks)[-20:],
            )
            if not standing.at_rest(live):
                live.board.real_sensor_now()

    def after_tick(self, found: Findings) -> None:
        """Serve urgent keys, add lines, publish. Raises Stopped where a key ended an act."""
        live = self.live
        if live is None:
            return
        glance = live.glance()
        more, self._notes = tuple(self._notes), []
        self._lines.take(glance, found, more)
        new = [r for r in found.releases if r.kick_out]
        changes: dict[str, Any] = {"glance": glance, "lines": tuple(self._lines.rows)[-400:],
                                   "ticks": self._snapshot.ticks + 1}  # fmt: skip
        if new:
            event = Event(new[-1].t_ms / 1000, "kick_out", new[-1].from_state)
            changes |= {"awaits_answer": True, "last_kick_out": event}
        self._show(**changes)
        if new:
            self.on_kick_out()
        self._serve_urgent(live)

    def _serve_urgent(self, live: DeskLive) -> None:
        urgent, self._urgent = self._urgent, ""
        if not urgent and self._closing.is_set() and not standing.at_rest(live):
            urgent = "now"
        if not urgent:
            return
        if urgent == "now" or live.status.state not in ("holding", "running"):
            live.board.real_sensor_now()
            self.note("connected", "real sensor now")
        else:
            live.board.ease_back()
            self.note("connected", "easing back")
        live.store.begin_stretch(live.drive_id, live.now_ms, "real", "normal", None)
        raise Stopped

    def note(self, kind: str, words: str) -> None:
        """Add an event of our own to the running lines."""
        if self.live is not None:
            self._notes.append(Event(self.live.now_ms / 1000, kind, words))

    def show(self, **changes: Any) -> None:
        self._show(**changes)

    def _show(self, **changes: Any) -> None:
        from dataclasses import replace

        self._snapshot = replace(self._snapshot, **changes)

    def _finish(self, live: DeskLive, how: str) -> None:
        self.live = None
        try:
            if how != "link_lost" and live.board.fetch().source != "real":
                live.board.real_sensor_now()
        except LinkTrouble:
            how = "link_lost"
        live.end(how)
        self._show(phase="ended" if how != "link_lost" else "lost", doing="")
