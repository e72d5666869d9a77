"""The tether: a recording that loses its board looks for it and takes it up again.

It holds what was last known of the board, turns a lost link into a :class:`LinkState`, looks for the
board once a second by its serial number, and compares what it finds with what it knew: the same
running board is adopted, one that has started anew is told apart, another board is left alone. A
computer that slept is the same story told from the other end: link or no link, the board was on
its own.
"""

from __future__ import annotations

from dataclasses import replace

from locum.errors import LinkTrouble, Remark
from locum.jobs import link_state
from locum.jobs.connection import Connection
from locum.jobs.link_state import LinkState
from locum.link.adopt import T_MODULUS_MS, Adoption, Known, reconcile
from locum.link.answers import Status
from locum.link.ports import moved
from locum.link.reach import look_for
from locum.link.sleep import Lapse, Wakefulness, clock_set, slept_s, was_asleep

LOOK_EVERY_S = 1.0
GIVE_UP_S = 600.0
"""A command looks for a lost board so long; the screens go on until told otherwise. [s]"""
CLOCK_BACK_MS = 1000
"""The board's clock behind what it was by more than this: it has started anew. [ms]"""


class Tether:
    """Between one recording and its board.

    Parameters
    ----------
    connection : Connection
        The board as it was opened. Without a ``reach`` there is no second way to it (a virtual
        board in this process), and a lost link stays an error.
    """

    def __init__(self, connection: Connection, status: Status) -> None:
        self.state = LinkState(place=connection.where)
        self.remarks: list[Remark] = []
        """All that was said of the link in this recording."""
        self.give_up_s: float | None = GIVE_UP_S
        self._link = connection
        self._awake = Wakefulness(connection.clock)
        self._heard_s = connection.clock.now_s()
        self._looked_s = self._heard_s
        self._told_s = self._heard_s
        self._lapse = Lapse()
        self._last = status
        self._cause: LinkTrouble | None = None
        connection.board.tethered = connection.reach is not None

    @property
    def lost(self) -> bool:
        return self.state.lost

    # -- while there is a link -------------------------------------------------------------------

    def wait(self, seconds: float) -> None:
        """Wait by the clock; what was slept away in it is kept until the board is heard."""
        lapse = self._awake.wait(seconds)
        self._lapse = Lapse(
            self._lapse.wall_s + lapse.wall_s, max(self._lapse.stood_s, lapse.stood_s)
        )

    def heard(self, status: Status) -> Adoption | None:
        """The board answered; an Adoption if it was on its own before that.

        Raises LinkTrouble when it has to be asked who it is and does not answer.
        """
        last, now_s = self._last, self._link.clock.now_s()
        lapse, steady_s = self._lapse, now_s - self._heard_s
        adoption = None
        if lapse.suspect or _clock_went_back(last, status):
            adoption = self._after_lapse(last, status, lapse, steady_s)
        elif self.state.text and now_s - self._told_s > link_state.SHOWN_S:
            self.state = LinkState(place=self._link.where)
        self._last, self._heard_s, self._lapse = status, now_s, Lapse()
        return adoption

    def _after_lapse(
        self, last: Status, status: Status, lapse: Lapse, steady_s: float
    ) -> Adoption | None:
        """Slept, restarted so quickly that the link held, or only the wall's clock was set."""
        boot = self._link.identity.boot_id
        if _clock_went_back(last, status):
            self._link.identity = self._link.board.identify()
        restarted = self._link.identity.boot_id != boot
        board_s = None if restarted else ((status.t_ms - last.t_ms) % T_MODULUS_MS) / 1000
        slept = slept_s(lapse, board_s, steady_s)
        if not slept and not restarted:
            if lapse.suspect:
                self._say(clock_set(lapse.wall_s))
            return None
        away_s = max(steady_s, slept if board_s is None else board_s)
        return self._adopted(self._known(last, boot), status, away_s, slept)

    # -- while there is none ---------------------------------------------------------------------

    def broke(self, trouble: LinkTrouble) -> None:
        """The link is gone. Raises ``trouble`` again where there is no second way to the board."""
        if self._link.reach is None:
            raise trouble
        self._cause = trouble
        self._link.board.transport.close()  # a held port would block the board that comes back
        self._looked_s = self._link.clock.now_s()
        self._say(*trouble.remarks)
        self._tell_lost()

    def look(self, seconds: float) -> Status | None:
        """Let time pass without a board, and look for it once a second; its status once found.

        Raises LinkTrouble when it has been looked for in vain for ``give_up_s``.
        """
        clock = self._link.clock
        self.wait(min(seconds, LOOK_EVERY_S))
        self._tell_lost()
        if clock.now_s() - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = clock.now_s()
            found = self._maybe_found()
            if found is not None:
                return found
        if self.give_up_s is not None and self.state.since_s > self.give_up_s:
            assert self._cause is not None
            raise LinkTrouble(tuple(dict.fromkeys((*self._cause.remarks, *self.remarks))))
        return None

    def _maybe_found(self) -> Status | None:
        assert self._link.reach is not None
        found, remarks = look_for(self._link.reach, self._link.identity.serial, self._link.clock)
        self._say(*(r for r in remarks if r.code == "another_board"))
        if found is None:
            return None
        try:
            self._link.board.attach(found.transport, found.identity)
            status = self._link.board.fetch()
        except LinkTrouble:
            found.transport.close()
            return None
        renamed = moved(self._link.where, found.place, found.identity.serial)
        if renamed is not None:
            self._say(renamed)
        self._link.where = found.place
        return status

    def took_up(self, status: Status) -> Adoption:
        """The board has been found: compare, say, and send the way home that was asked for."""
        last, link, lapse = self._last, self._link, self._lapse
        boot = link.identity.boot_id
        link.identity = link.board.identity or link.identity
        steady_s = link.clock.now_s() - self._heard_s
        restarted = link.identity.boot_id != boot
        board_s = None if restarted else ((status.t_ms - last.t_ms) % T_MODULUS_MS) / 1000
        slept = slept_s(lapse, board_s, steady_s)
        away_s = steady_s + (slept if slept == lapse.wall_s else 0.0)
        adoption = self._adopted(self._known(last, boot), status, away_s, slept)
        self._last, self._heard_s, self._lapse = status, link.clock.now_s(), Lapse()
        link.board.grant_wish()
        return adoption

    # -- words -----------------------------------------------------------------------------------

    def _known(self, status: Status, boot_id: int) -> Known:
        identity, board = self._link.identity, self._link.board
        return Known(
            identity.serial, boot_id, status.t_ms, status.state, plan_crc=board.plan_crc,
            lost=status.lost, cause=status.cause, protocol=identity.protocol,
        )  # fmt: skip

    def _adopted(self, before: Known, status: Status, away_s: float, slept: float) -> Adoption:
        now = self._known(status, self._link.identity.boot_id)
        if before.state == "running" and before.boot_id == now.boot_id:
            _, _, crc = self._link.board.plan_on_board()
            now = replace(now, plan_crc=int(crc.removeprefix("#H"), 16))
        adoption = reconcile(before, now, before.plan_crc if before.state == "running" else None)
        restarted = adoption.verdict == "restarted"
        happened = f"The board answers again after {away_s:.0f} s."
        if slept:
            self._say(was_asleep(slept))
            happened = f"The computer slept for {slept:.0f} s. " + happened
        self._say(*adoption.remarks)
        self._told_s = self._link.clock.now_s()
        self.state = LinkState(
            "restarted" if restarted else "adopted", away_s, slept, happened,
            link_state.did_meanwhile(adoption), link_state.goes_on(adoption), self._link.where,
        )  # fmt: skip
        return adoption

    def _tell_lost(self) -> None:
        last, board = self._last, self._link.board
        assert self._cause is not None
        since_s = self._link.clock.now_s() - self._heard_s + self._lapse.wall_s
        self.state = LinkState(
            "lost", since_s, 0.0, f"The board does not answer: {self._cause.remarks[0].found}.",
            link_state.board_meanwhile(last, board.plan_runs_on, since_s),
            link_state.looking(self.give_up_s, board.wish), self._link.where,
        )  # fmt: skip

    def _say(self, *remarks: Remark) -> None:
        self.remarks += [remark for remark in remarks if remark not in self.remarks]


def _clock_went_back(before: Status, now: Status) -> bool:
    back_ms = (before.t_ms - now.t_ms) % T_MODULUS_MS
    return CLOCK_BACK_MS < back_ms < T_MODULUS_MS // 2
