"""Currents while standing in, terminals inside the rails, and what wrong connections do."""

from __future__ import annotations

from circuit.model import Circuit

from . import battery, leads, standing
from .deck import Row


def rows(circuit: Circuit) -> list[Row]:
    return [*standing.rows(circuit), *battery.rows(circuit), *leads.rows(circuit)]
