"""Opening what a session sits on: circuit, board and recording of a setup, closed in the right order."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from locum.casebook.store import Store
from locum.errors import LinkTrouble
from locum.jobs import standing
from locum.jobs.calibrated import with_calibration
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.connection import VIRTUAL, Connection, connect
from locum.jobs.desk_session import DeskLive, Session
from locum.jobs.errand import case_sheets
from locum.jobs.first_start import VAN, with_board
from locum.jobs.live import Live, begin
from locum.jobs.self_test import look_at_itself

if TYPE_CHECKING:
    from locum.jobs.desk import Desk


@contextmanager
def opened(desk: Desk, store: Store) -> Iterator[Session]:
    """Circuit, board and recording of the desk's setup; closed in the right order."""
    setup = with_board(desk.setup, desk.settings)
    case_id = store.case_id_from(setup.case) if setup.case else None
    circuit = circuit_of(setup, store, case_id)
    connection = connect(setup.board, circuit.board, setup.seed, setup.speed)
    try:
        plain, circuit = circuit, with_calibration(store, connection, circuit)
        live = begin(connection, circuit, store, setup.kind, case_id, {"from": "screens"}, DeskLive)
        assert isinstance(live, DeskLive)
        live.tether.give_up_s = None  # the screens look for a lost board until told otherwise
        session = Session(desk, live, plain)
        live.session = session
        standing.set_lines(live)
        desk.show(**_opened_facts(setup, case_id, live, circuit, connection))
        how = "done"
        try:
            yield session
        except LinkTrouble:
            how = "link_lost"
            raise
        finally:
            session.finish(how)
    finally:
        connection.close()


def _opened_facts(setup, case_id, live: Live, circuit: Circuit, connection: Connection) -> dict:
    return {
        "circuit": circuit, "self_test": look_at_itself(live.board, live.status.state),
        "kept_alone_s": live.board.record_lasts_s(),
        "setup": setup, "phase": "recording", "doing": "listen", "doing_words": "",
        "drive_id": live.drive_id, "case_id": case_id,
        "case_title": live.store.case(case_id).title if case_id else "", "virtual": connection.virtual,
        "board": f"{connection.identity.model} {connection.identity.serial}",
        "circuit_remarks": circuit.remarks,
        "sheets": {role: name for role, (name, _) in circuit.texts.items()}, "lines": (), "awaits_answer": False, "asks_felt": "",
        "foot": "", "hidden": False, "trouble_words": "", "news": "",
    }  # fmt: skip


def circuit_of(setup, store: Store, case_id: str | None) -> Circuit:
    """The circuit of a setup; what it does not tell comes from the case's own sheets, and on the
    virtual board from the invented van's."""
    sheets = case_sheets(store, case_id)
    van = VAN if setup.board == VIRTUAL else {}

    def told(role: str, typed: str | None) -> str | None:
        return typed or sheets.get(role, (None,))[0] or van.get(role)

    circuit = open_circuit(
        told("sensor", setup.sensor), told("module", setup.module), told("vehicle", setup.vehicle),
        setup.board_sheet, dict(sheets.values()),
    )  # fmt: skip
    if setup.circuit and not circuit.sensor.circuit:
        return replace(circuit, sensor=replace(circuit.sensor, circuit=setup.circuit))
    return circuit
