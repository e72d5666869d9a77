"""``locum capture``: a glitch of the real sensor, as recorded, becomes a profile to be replayed.

The file is a CSV of time, ohms and contact, as every profile may be: quiet before, the glitch as the
record holds it, quiet after. Where the circuit was open or shorted the contact says so and the ohms
stay at the quiet value; so it is where the glitch went beyond what the stand-in can be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from locum.casebook.store import Store
from locum.errors import Refused, Remark
from locum.jobs.cases import open_casebook
from locum.jobs.context import review_context
from locum.jobs.files import write_text
from locum.jobs.jsontext import Result
from locum.jobs.kept_circuit import circuit_of_drive
from locum.jobs.stored_record import chunks_of
from locum.review.chunk import SAMPLE
from locum.review.findings import Glitch
from locum.review.shape import glitch_shape

QUIET_S = 5.0
"""Kept quiet before and after the glitch. [s]"""
MARGIN_MS = 20


@dataclass
class CaptureResult(Result):
    drive: str
    glitch: int
    """Its number among the drive's glitches, from 1."""
    glitches: int
    t_s: float
    length_ms: float
    towards: str
    depth_k: float
    rows: list[dict]
    """time_s, ohms and contact, as written."""
    out: str
    sentence: str
    warnings: list[Remark] = field(default_factory=list)


def kept_glitches(store: Store, drive_id: str) -> list[Glitch]:
    """The real sensor's own glitches of a recording's newest review, by time."""
    reviews = store.reviews(drive_id)
    if not reviews:
        raise Refused(Remark("no_review", f"recording {drive_id}", "a review", "none",
                             f"`locum drive review {drive_id}`"))  # fmt: skip
    rows = [Glitch(**row) for row in reviews[-1].result["glitches"]]
    return sorted((g for g in rows if not g.ours), key=lambda g: g.t_ms)


def capture(
    drive: str, number: int | None = None, out: str | None = None, casebook: str | None = None
) -> CaptureResult:
    """Write one glitch as a profile; without a number the longest whose sides are both on record."""
    with open_casebook(casebook) as store:
        return capture_from(store, store.drive_id_from(drive), number, out)


def capture_from(
    store: Store, drive_id: str, number: int | None = None, out: str | None = None
) -> CaptureResult:
    """The same of a recording in an open casebook."""
    glitches = kept_glitches(store, drive_id)
    chosen = _chosen(glitches, number, drive_id)
    circuit = circuit_of_drive(store, drive_id)
    samples = _samples(store, drive_id, chosen)
    shape = glitch_shape(samples, chosen, review_context(circuit), MARGIN_MS)
    if len(shape) < 2:
        raise Refused(Remark("not_on_record", f"glitch {glitches.index(chosen) + 1}",
                             "a record that holds the glitch", f"{len(shape)} values",
                             "choose another with --number"))  # fmt: skip
    reach = circuit.network.reach_ohm
    rows = _rows(_within(shape, *sorted(reach)), chosen)
    path = Path(out or f"glitch-{drive_id[-6:].lower()}-{glitches.index(chosen) + 1}.csv")
    written = write_text(path, _csv(rows, drive_id, chosen))
    said = (f"{chosen.length_ms:.0f} ms towards {chosen.towards} at {chosen.t_ms / 1000:.1f} s. "
            f"Give it to the module, blanks between: locum glitch --profile {path}")  # fmt: skip
    return CaptureResult(
        drive_id, glitches.index(chosen) + 1, len(glitches), chosen.t_ms / 1000, chosen.length_ms,
        chosen.towards, chosen.depth_k, rows, written, said,
    )  # fmt: skip


def _chosen(glitches: list[Glitch], number: int | None, drive_id: str) -> Glitch:
    if not glitches:
        raise Refused(Remark("no_glitch", f"recording {drive_id}", "a glitch of the real sensor",
                             "none", "record again while it happens"))  # fmt: skip
    if number is None:
        return max(glitches, key=lambda g: (g.kind != "step", g.length_ms))
    if not 1 <= number <= len(glitches):
        raise Refused(Remark("no_such_glitch", "--number", f"1 to {len(glitches)}", str(number),
                             f"`locum drive show {drive_id}` lists them"))  # fmt: skip
    return glitches[number - 1]


def _samples(store: Store, drive_id: str, glitch: Glitch) -> np.ndarray:
    """The buckets around a glitch."""
    low, high = glitch.t_ms - 2000, glitch.t_ms + glitch.length_ms + 2000
    parts = [np.empty(0, SAMPLE)]
    for chunk in chunks_of(store, drive_id):
        rows = chunk.samples
        parts.append(rows[(rows["t_ms"] < high) & (rows["t_ms"] + rows["span_ms"] > low)])
        if chunk.start_ms > high:
            break
    return np.concatenate(parts)


def _within(shape: list[tuple[int, float]], low: float, high: float) -> list[tuple[int, float]]:
    """The shape as a stand-in can play it: beyond its reach the circuit is open or shorted.

    Against a pull-up of a kilohm or so what lies beyond is nearly that. [ohm]
    """
    return [(t, math.inf if ohm > high else 0.0 if ohm < low else ohm) for t, ohm in shape]


def _contact(ohm: float) -> str:
    return "open" if math.isinf(ohm) else "short" if ohm <= 0 else "through"


def _rows(shape: list[tuple[int, float]], glitch: Glitch) -> list[dict]:
    """Rows of the profile: quiet, the changes, quiet. Values hold until the next row."""
    through = [ohm for _, ohm in shape if _contact(ohm) == "through"]
    quiet = through[0] if _contact(shape[0][1]) == "through" else through[-1] if through else 1000.0
    start_s = QUIET_S + MARGIN_MS / 1000
    rows: list[dict] = [{"time_s": 0.0, "ohms": round(quiet, 2), "contact": "through"}]
    inside = [(t, ohm) for t, ohm in shape if 0 <= t < glitch.length_ms]
    for t_ms, ohm in inside:
        contact = _contact(ohm)
        value = ohm if contact == "through" else quiet
        if (rows[-1]["ohms"], rows[-1]["contact"]) != (round(value, 2), contact):
            _add(rows, start_s + t_ms / 1000, round(value, 2), contact)
    _add(rows, start_s + glitch.length_ms / 1000, round(quiet, 2), "through")
    _add(rows, start_s + glitch.length_ms / 1000 + QUIET_S, round(quiet, 2), "through")
    return rows


def _add(rows: list[dict], time_s: float, ohms: float, contact: str) -> None:
    """A value that holds from this time on: the one before is held until a millisecond before."""
    last = rows[-1]
    if (last["ohms"], last["contact"]) != (ohms, contact) and time_s - last["time_s"] > 0.002:
        rows.append({**last, "time_s": round(time_s - 0.001, 3)})
    if time_s > rows[-1]["time_s"]:
        rows.append({"time_s": round(time_s, 3), "ohms": ohms, "contact": contact})


def _csv(rows: list[dict], drive_id: str, glitch: Glitch) -> str:
    head = [f"# A glitch of the real sensor, from recording {drive_id} at {glitch.t_ms} ms:",
            f"# {glitch.length_ms:.0f} ms towards {glitch.towards}, heard on the {glitch.channel}.",
            "time_s,ohms,contact"]  # fmt: skip
    body = [f"{r['time_s']:.3f},{r['ohms']:.2f},{r['contact']}" for r in rows]
    return "\n".join([*head, *body]) + "\n"
