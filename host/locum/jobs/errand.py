"""An errand: one recording from opening the board to the real sensor again.

Every verb of the command line does its one thing inside :func:`errand`, which opens the circuit,
the casebook and the board, begins the recording, and whatever happens brings the real sensor back
and closes the record.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from locum.casebook.store import Store
from locum.errors import LinkTrouble, Refused, Remark
from locum.jobs import standing
from locum.jobs.calibrated import with_calibration
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.connection import connected
from locum.jobs.interrupts import Interrupts
from locum.jobs.live import Live, begin
from locum.jobs.verb_result import VerbResult, fill
from locum.locations import casebook_path
from locum.planning.plan import Plan
from locum.settings import load_settings

LEAVE_SEEN_S = 3.0
"""So long a plan is watched that is then left alone. [s]"""
HOST_FED = Remark(
    "fed_by_computer",
    "board",
    "a power bank between computer and board",
    "a board that this computer feeds",
    "if the computer cuts its power when shut, the real sensor is connected and the record is lost",
)

NOTHING_PLUGGED_IN = Remark(
    "played_virtually",
    "board",
    "a board at a port",
    "none, so this was played on the virtual board",
    "plug one in or give --board PORT; --board virtual says that it is meant",
)


class ErrandLive(Live):
    """A recording whose warnings are said at once, not only with the result."""

    def warn(self, *remarks: Remark) -> None:
        new = [remark for remark in remarks if remark not in self.warnings]
        super().warn(*remarks)
        for remark in new:
            print(f"Note: {remark.text}", file=sys.stderr, flush=True)


@dataclass
class Errand:
    """What every verb needs: the running recording, its circuit, Ctrl-C and the result so far."""

    live: Live
    circuit: Circuit
    interrupts: Interrupts
    result: VerbResult
    plan: Plan | None = None
    left: bool = False
    """The plan is to run on when the recording ends: the laptop may be shut."""
    _link_told: str = "connected"

    def wait(self, seconds: float, until: Callable[[Live], bool] = lambda live: False) -> bool:
        """Let time pass; ends early on Ctrl-C (also one before it), a trip, or where the board went
        home by itself.

        True if ``until`` came to hold. Tells on stderr when the board is lost and found again.
        """
        if not self.stopped:
            self.live.wait(seconds, lambda live: self._told(live) or until(live) or self.stopped)
        return until(self.live)

    def _told(self, live: Live) -> bool:
        """Say once what became of the link; never a reason to stop waiting."""
        if live.link.connection != self._link_told:
            self._link_told = live.link.connection
            if live.link.text:
                print(live.link.text, file=sys.stderr, flush=True)
        return False

    @property
    def _over(self) -> bool:
        return self.live.status.state == "tripped" or self.live.came_home

    @property
    def stopped(self) -> bool:
        return self.interrupts.count > 0 or self._over

    def may_leave(self) -> None:
        """Refused where the board would end with this program."""
        if self.live.connection.virtual:
            raise Refused(
                Remark(
                    "cannot_leave",
                    "--leave",
                    "a board that runs on by itself",
                    "the virtual board, which ends with this command",
                    "leave --leave away, or serve a board: locum serve --body virtual --pty LINK",
                )
            )

    def leave(self, seconds: float) -> None:
        """The plan runs: see it do so for a moment, and say what happens without a computer."""
        self.wait(LEAVE_SEEN_S)
        if self.stopped:
            self.go_home()
            return
        self.left = True
        place = self.live.connection.where
        print(f"The plan runs on for {seconds / 60:.0f} min by itself, then eases back; its limits hold. "
              f"Fetch what it kept with: locum drive fetch --board {place}", file=sys.stderr)  # fmt: skip
        if self.live.status.supply == "host":
            self.result.warnings.append(HOST_FED)

    def go_home(self) -> None:
        """Ease back; a second Ctrl-C, also one before, brings the real sensor now."""
        live = self.live
        if live.status.state in ("holding", "running") and self.interrupts.count < 2:
            live.board.ease_back()
            live.wait(
                standing.RETURN_WAIT_S,
                lambda x: standing.at_rest(x) or self.interrupts.count >= 2,
            )
        if not standing.at_rest(live):
            standing.real_sensor_now(live)


@contextmanager
def errand(verb: str, options: dict) -> Iterator[Errand]:
    """Open everything, hand over the errand, and close everything in the right order."""
    settings = load_settings()
    path = options.get("casebook") or settings.casebook or casebook_path()
    with Store.open(Path(path)) as store:
        case_id = options.get("case")
        case_id = store.case_id_from(case_id) if case_id else None
        sheets = case_sheets(store, case_id)
        circuit = open_circuit(
            options.get("sensor") or sheets.get("sensor", (None,))[0],
            options.get("module") or sheets.get("module", (None,))[0],
            options.get("vehicle") or sheets.get("vehicle", (None,))[0],
            options.get("board_sheet"),
            {name: text for name, text in sheets.values()},
        )
        board = options.get("board") or settings.board or None
        with connected(
            board, circuit.board, options.get("seed") or 1, options.get("speed")
        ) as link:
            circuit = with_calibration(store, link, circuit)
            kept = {k: v for k, v in options.items() if v is not None}
            # From here on Ctrl-C only counts: a recording that has begun is brought to its end.
            with Interrupts() as interrupts:
                told = {"command": verb, "options": kept}
                live = begin(link, circuit, store, verb, case_id, told, ErrandLive)
                result = VerbResult(verb, live.drive_id, 0.0, board=link.identity.serial,
                                    casebook=str(Path(path).resolve()))  # fmt: skip
                result.warnings += circuit.remarks
                if link.virtual and board is None:
                    result.warnings.append(NOTHING_PLUGGED_IN)
                yield from _guarded(Errand(live, circuit, interrupts, result))


def _guarded(job: Errand) -> Iterator[Errand]:
    live = job.live
    how = "failed"
    try:
        yield job
        how = _ending(job)
    except LinkTrouble:
        how = "link_lost"
        raise
    finally:
        if how != "left":
            _let_go(live)
        fill(job.result, live, how, job.plan)


def _ending(job: Errand) -> str:
    """How a recording ended that nothing went wrong with."""
    if job.live.status.state == "tripped":
        return "tripped"
    if job.interrupts.count:
        return "stopped"
    if job.live.came_home:
        return "came_home"
    return "left" if job.left else "done"


def _let_go(live: Live) -> None:
    """Whatever happened, the real sensor; a link that is gone lets go by itself."""
    try:
        if not standing.at_rest(live):
            standing.real_sensor_now(live)
    except LinkTrouble:
        pass


def case_sheets(store: Store, case_id: str | None) -> dict[str, tuple[str, str]]:
    """Role -> (name, text) of the sheets a case has in use."""
    if not case_id:
        return {}
    return {sheet.role: (sheet.name, sheet.text) for sheet in store.sheets(case_id)}
