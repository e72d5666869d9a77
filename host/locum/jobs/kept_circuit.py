"""The circuit of a stored recording: from the sheets, readings or assumptions kept beside it."""

from __future__ import annotations

import re
from dataclasses import replace

from locum.casebook.store import Store
from locum.jobs.case_rule import case_rule
from locum.jobs.circuit import Circuit, open_circuit


def circuit_of_drive(store: Store, drive_id: str) -> Circuit:
    """The circuit of a recording from what is kept beside it: sheets, readings, or assumptions."""
    texts = {sheet.role: (sheet.name, sheet.text) for sheet in store.drive(drive_id).sheets}
    sensor, module, vehicle = (
        _words(*texts.get(role, ("", "# none"))) for role in ("sensor", "module", "vehicle")
    )
    circuit = open_circuit(sensor, module, vehicle, None, dict(texts.values()))
    return replace(circuit, case_rule=case_rule(store, store.drive(drive_id).case_id))


def _words(name: str, text: str) -> str | None:
    """What was said to get this text: a sheet's name, readings, or nothing."""
    readings = re.findall(r"^# reading: (\S+) degC, (\S+) ohm$", text, re.MULTILINE)
    if readings:
        return ",".join(f"{celsius}C={ohm}" for celsius, ohm in readings)
    bare = all(line.startswith("#") for line in text.splitlines() if line.strip())
    return None if bare else name
