"""The calibration from the screens: a few readings between two looks at the keys, all of it resumable.

The real sensor is connected from the first reading to the last; its key ends the calibration and what
was read is kept. The arithmetic at the end runs beside the desk's own thread, so that record and keys
go on meanwhile.
"""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import TYPE_CHECKING

from locum.errors import LinkTrouble, Misuse, Refused, Remark
from locum.jobs import standing
from locum.jobs.calibrated import with_calibration
from locum.jobs.calibrating import verified
from locum.jobs.calibration_readings import Measuring, floor_measured
from locum.jobs.calibration_told import CalibrationLook, Known, known_of
from locum.jobs.live import Live
from locum.physics.calibration import Calibration
from locum.sheets import values

if TYPE_CHECKING:
    from locum.jobs.desk_session import Session

PART = 3
"""Readings between two looks at the keys: some 0.1 s on a board."""
USUAL_PCT = 0.5
"""Accuracy of a hand meter of which nothing is told. [%]"""
METER_LINE = "bench 0.05% 200=200.1 9k=9.002k"
"""A hand meter's readings as typed: its name, its accuracy, two set values with what it read."""


def hand_meter(text: str) -> tuple[str, float, list[tuple[float, float]]]:
    """(name, accuracy in percent, [(set ohm, read ohm)]) of a typed line; all empty for an empty one.

    Raises Misuse with an example.
    """
    checks, names, accuracy_pct = [], [], USUAL_PCT
    try:
        for word in text.split():
            left, separator, right = word.partition("=")
            if separator:
                checks.append((values.resistance_ohm(left), values.resistance_ohm(right)))
            elif word.endswith("%"):
                accuracy_pct = float(word.rstrip("%").replace(",", "."))
            else:
                names.append(word)
    except (ValueError, Misuse):
        checks = []
    if text.strip() and (not checks or not 0 < accuracy_pct < 100):
        raise Misuse(
            Remark("hand_meter", "hand meter", f"readings such as {METER_LINE}", f"'{text}'",
                   "type it like that: name, accuracy, set value = what it read")
        )  # fmt: skip
    return " ".join(names), accuracy_pct, checks


def calibrate(session: Session, live: Live, readings: str = "") -> None:
    """Measure the board's own network, at rest; ``readings`` are a hand meter's, as typed."""
    name, accuracy_pct, checks = hand_meter(readings)
    _only_at_rest(live)
    measuring = Measuring(live.connection, live.circuit.board)
    made = None
    try:
        _read(session, live, measuring)
        _tell(session, measuring, "fitting")
        made = _beside(live, lambda: measuring.fitted(live.board_c))
        made, _, remarks = verified(made, checks, name, accuracy_pct)
        fresh = floor_measured(live.connection, live.circuit.board, made)
    except BaseException as end:
        if isinstance(end, Refused) and made is None:
            measuring.forget()  # the readings contradict each other: others are wanted
        else:
            measuring.keep()
        _tell(session, measuring, _how(end))
        session.show(doing="listen", doing_words="")
        raise
    live.store.add_calibration(live.connection.identity.serial, made.to_dict(), name)
    measuring.forget()
    _take(session, live, fresh)
    _tell(session, measuring, "done", known_of(live.circuit))
    session.show(remarks=(*session.desk.told.remarks, *remarks), doing="listen")
    session.note("connected", "the board is calibrated")


def _how(end: BaseException) -> str:
    """What became of a calibration that did not come to its end."""
    if isinstance(end, LinkTrouble):
        return "lost"
    return "refused" if isinstance(end, Refused) else "stopped"


def _tell(session: Session, measuring: Measuring, phase: str, known: Known | None = None) -> None:
    done, total = measuring.done, measuring.total
    session.show(
        calibration=CalibrationLook(
            phase, done, total, measuring.left_s, measuring.resumed, known
        ),
        doing_words="" if phase == "done" else f"{done} of {total} readings",
    )  # fmt: skip


def _take(session: Session, live: Live, fresh: Calibration) -> None:
    """The circuit that is driven with from now on is the calibrated one."""
    circuit = with_calibration(live.store, live.connection, session.plain_circuit)
    live.circuit = replace(
        circuit, case_rule=live.circuit.case_rule, calibration=fresh,
        network=circuit.network.calibrated(fresh),
    )  # fmt: skip
    session.show(circuit_remarks=live.circuit.remarks)


def _only_at_rest(live: Live) -> None:
    live.tick(0.0)
    if live.status.state == "tripped":
        live.board.clear_trip()
        live.tick(0.0)
    if not standing.at_rest(live):
        raise Refused(
            Remark("not_at_rest", "board", "a board at rest, the real sensor connected",
                   "the stand-in is connected", "ease back first, then calibrate")
        )  # fmt: skip


def _read(session: Session, live: Live, measuring: Measuring) -> None:
    """Reading after reading, with a look at record and keys every few."""
    _tell(session, measuring, "reading")
    while measuring.done < measuring.total:
        measuring.read(PART)
        _tell(session, measuring, "reading")
        live.tick(0.0)


def _beside(live: Live, compute) -> Calibration:
    """Arithmetic in a thread of its own while the recording goes on."""
    made: list[Calibration] = []
    failed: list[Exception] = []

    def work() -> None:
        try:
            made.append(compute())
        except Exception as error:  # raised again in the desk's thread, which tells it
            failed.append(error)

    worker = threading.Thread(target=work, name="locum-fit", daemon=True)
    worker.start()
    while worker.is_alive():
        live.tick()
    for error in failed:
        raise error
    return made[0]
