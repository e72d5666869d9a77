"""One recording while it goes on: board, record and review kept in step.

``tick`` is the only place where time passes: it waits by the clock, asks the board what it is
doing, drains its record, writes it down, and only then lets review look at it. What the screens
show is a :class:`~locum.jobs.glance.Glance` made from the last tick.
"""

from __future__ import annotations

from dataclasses import replace

from locum.errors import LinkTrouble, Remark
from locum.jobs import possible_codes
from locum.jobs.case_rule import case_rule
from locum.jobs.circuit import Circuit
from locum.jobs.connection import Connection
from locum.jobs.context import review_context, with_answer
from locum.jobs.evidence import measured_answer
from locum.jobs.glance import Glance, glance_of
from locum.jobs.intake import Intake
from locum.jobs.kept_on_board import Kept, rescue
from locum.jobs.link_state import LinkState
from locum.jobs.quiet_band import quiet_counts
from locum.jobs.review_kept import REVIEW_VERSION, stored_review
from locum.jobs.tether import Tether
from locum.link.adopt import AWAY, Adoption
from locum.link.clock import RealClock
from locum.recording.recorder import Recorder
from locum.review.findings import Findings

POLL_S = 0.25
"""How often a job looks: often enough for the recorder's second, seldom enough for a Pico."""
HURRIED_POLL_S = 0.9
"""The same on a virtual board that runs as fast as it can."""
HEARD_S = 0.9
"""Just below the second after which a board notes that its host is silent."""


class Live:
    """A recording in progress; made by :func:`begin`."""

    def __init__(
        self, connection: Connection, circuit: Circuit, recorder: Recorder, context
    ) -> None:
        self.connection = connection
        self.board = connection.board
        self.clock = connection.clock
        self.circuit = circuit
        self.recorder = recorder
        self.drive_id = recorder.drive_id
        self.store = recorder.store
        self.status = self.board.fetch()
        self.tether = Tether(connection, self.status)
        self.intake = Intake(recorder, context)
        self.intake.open(self.board)
        self._stretches = 0
        self.rescued: Kept | None = None
        """What the board had kept for an earlier recording, filed before this one began."""
        self.came_home = False
        """The board went to the real sensor by itself while its link was lost."""
        self.warnings: list[Remark] = []
        """What a person was warned of on the way, once each."""
        self.poll_s = HURRIED_POLL_S if connection.hurried else POLL_S

    # -- time ------------------------------------------------------------------------------------

    @property
    def now_ms(self) -> int:
        """Board time of the last tick since the recording began. [ms]"""
        return self.intake.now_ms

    @property
    def board_c(self) -> float | None:
        """The board's own temperature, last told; None before, or without a thermometer. [degC]"""
        return self.intake.board_c

    def warn(self, *remarks: Remark) -> None:
        """Something a person should know before it goes on; nothing is held up by it."""
        self.warnings += [remark for remark in remarks if remark not in self.warnings]

    @property
    def link(self) -> LinkState:
        """Connected, lost, adopted or restarted, and what to say about it."""
        return self.tether.state

    @property
    def link_remarks(self) -> tuple[Remark, ...]:
        """All that was said of the link since the recording began."""
        return tuple(self.tether.remarks)

    def tick(self, seconds: float = POLL_S) -> Findings:
        """Let time pass and take in what happened; what became certain in it.

        A lost link is no error here (see ``link``) while there is a way to find the board again;
        a trip is none either: it stands in ``status``. Raises LinkTrouble when the board has been
        looked for in vain, FileTrouble when nothing can be written down any more.
        """
        try:
            if self.tether.lost:
                return self._look_for_board(seconds)
            self._pass(seconds)
            self._fetch_status()
            found = self._take_record()
        except LinkTrouble as trouble:
            if self.tether.lost:
                raise
            self.tether.broke(trouble)
            found = Findings()
        self.intake.keep(found)
        return found

    def _look_for_board(self, seconds: float) -> Findings:
        status = self.tether.look(seconds)
        if status is None:
            self.recorder.take([])
            return Findings()
        self.status = status
        try:
            self._came_back(self.tether.took_up(status))
            self.status = self.board.fetch()  # a way home asked for meanwhile has just been sent
            found = self._take_record()
        except LinkTrouble as trouble:
            self.tether.broke(trouble)
            return Findings()
        self.intake.keep(found)
        return found

    def _fetch_status(self) -> None:
        self.status = self.board.fetch()
        adoption = self.tether.heard(self.status)
        if adoption is not None:
            self._came_back(adoption)

    def _came_back(self, adoption: Adoption) -> None:
        """Write down that the board was on its own, and tell one that started anew what it forgot."""
        self.recorder.gap(self.now_ms, self.now_ms, 0, self.link.text)
        if adoption.verdict == "restarted":
            self.set_lines()
        if adoption.verdict in ("restarted", "ended") and adoption.gap.state_before in AWAY:
            self.came_home = True
            self.stretch("real")

    def set_lines(self) -> None:
        """Tell the board what kind each watch line is (without a vehicle sheet all are switched), and
        how closely to record."""
        if self.circuit.can("node"):
            self.board.set_quiet(quiet_counts(self.circuit))
        vehicle, count = self.circuit.vehicle, self.connection.abilities.lines
        if vehicle and count:
            kinds = {line.input: line.kind for line in vehicle.lines}
            self.board.set_line_kinds([kinds.get(n, "ignore") for n in range(1, count + 1)])

    def _take_record(self) -> Findings:
        return self.intake.take(self.board, self.status, self.clock.utc())

    def _pass(self, seconds: float) -> None:
        """Wait, letting the board hear from us at least every ``HEARD_S``."""
        while seconds > HEARD_S:
            self.tether.wait(HEARD_S)
            self.board.touch()
            seconds -= HEARD_S
        self.tether.wait(seconds)

    def wait(self, seconds: float, until=lambda live: False, poll_s: float | None = None) -> bool:
        """Tick for so long, or until the condition holds; whether it did.

        Does not come back while the board is lost: nothing can be asked of it then.
        """
        poll_s = poll_s or self.poll_s
        end_s = self.clock.now_s() + seconds
        while (left := end_s - self.clock.now_s()) > 1e-9 or self.link.lost:
            self.tick(min(poll_s, left) if left > 1e-9 else poll_s)
            if until(self):
                return True
        return False

    # -- what a person adds ----------------------------------------------------------------------

    def mark(self, kind: str = "key", ago_s: float = 0.0, note: str = "") -> None:
        """Something felt or answered, now or ``ago_s`` ago, also while the board is lost. [s]"""
        now_ms = self.now_ms + (int(self.link.since_s * 1000) if self.link.lost else 0)
        self.store.add_mark(self.drive_id, now_ms, kind, int(ago_s * 1000), note)
        self.intake.mark(now_ms, kind, int(ago_s * 1000))

    def stretch(self, connected: str, foot: str = "normal", plan: dict | None = None) -> int:
        """A new stretch begins: one thing connected, one way of driving."""
        self._stretches += 1
        return self.store.begin_stretch(self.drive_id, self.now_ms, connected, foot, plan)

    # -- results ---------------------------------------------------------------------------------

    @property
    def findings(self) -> Findings:
        """Everything found so far."""
        return self.intake.findings

    def glance(self) -> Glance:
        return glance_of(self)

    def end(self, how: str = "done", version: str = "") -> Findings:
        """Close recording and review; the final findings, kept with the drive."""
        whole = self.intake.finish()
        self.store.end_stretch(self.drive_id, self.now_ms)
        self.recorder.end(how)
        self.store.add_review(
            self.drive_id, version or REVIEW_VERSION, stored_review(whole, self.circuit.case_rule)
        )
        possible_codes.keep_given(self.store, self.drive_id, whole, self.circuit.module.codes)
        return whole


def begin(
    connection: Connection,
    circuit: Circuit,
    store,
    kind: str,
    case_id: str | None = None,
    settings: dict | None = None,
    make: type[Live] = Live,
) -> Live:
    """Open a recording on a connected board: from here on everything is written down."""
    identity = connection.identity
    board = {"model": identity.model, "serial": identity.serial, "firmware": identity.firmware,
             "protocol": identity.protocol, "boot_id": identity.boot_id, "where": connection.where,
             "network": circuit.network.network_id}  # fmt: skip
    rescued = rescue(store, connection)
    connection.board.clear_record()
    drive_id = store.begin_drive(
        kind, case_id, board, dict(circuit.texts), settings or {}, connection.clock.utc()
    )
    try:
        live = _opened(connection, circuit, store, drive_id, case_id, make)
    except BaseException as trouble:  # nothing was recorded, but it must not stay open for ever
        store.end_drive(drive_id, "link_lost" if isinstance(trouble, LinkTrouble) else "failed")
        raise
    live.rescued = rescued
    live.stretch("real")
    return live


def _opened(
    connection: Connection, circuit: Circuit, store, drive_id: str, case_id: str | None, make
) -> Live:
    # A hurried virtual hour passes in seconds: the disk is waited for by the wall's clock then.
    wall = RealClock() if connection.hurried else connection.clock
    recorder = Recorder(store, drive_id, wall)
    circuit = replace(circuit, case_rule=case_rule(store, case_id))
    answer = measured_answer(store, case_id) if case_id else (None, None)
    context = with_answer(review_context(circuit), *answer)
    return make(connection, circuit, recorder, context)
