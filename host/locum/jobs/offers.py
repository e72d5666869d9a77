"""Values worth telling the module, computed from what is known: one key each on the screen.

Cold as found is the coldest that the real sensor was heard at, warm as measured the highest it
settled at, both from the recordings of the case or of now; at the threshold is the middle of what
``locum threshold`` measured. Where nothing was recorded, the readings of the sensor serve.
"""

from __future__ import annotations

from dataclasses import dataclass

from locum.casebook.store import Store
from locum.errors import Refused
from locum.jobs.circuit import Circuit
from locum.jobs.quantities import readings_typed

APART_C = 8.0
"""Cold and warm closer than this are one value. [K]"""
EDGE = 0.02
"""Share of a recording's temperatures that may lie beyond its cold and warm: a glitch is none."""


@dataclass(frozen=True)
class Offer:
    """One value the module could be told now."""

    name: str
    """cold, warm or threshold."""
    celsius: float
    why: str
    """Where it comes from, in words."""


def offers_of(
    store: Store, case_id: str | None, circuit: Circuit, readings: str | None, true_c: float | None
) -> tuple[Offer, ...]:
    """Offers from the case's recordings and findings, else from the readings typed.

    Parameters
    ----------
    readings : str, optional
        The sensor as told, such as "20C=2.5k,82C=300".
    true_c : float, optional
        The real sensor now. [degC]
    """
    cold, warm = heard_c(store, case_id, circuit)
    words = ("as found cold", "as measured warm")
    if cold is None:
        cold, warm = read_c(readings)
        words = ("the cold reading", "the hot reading")
    if cold is None and true_c is not None:
        cold, words = true_c, ("as when recording began", "")
    made = []
    if cold is not None:
        made.append(Offer("cold", round(cold, 1), words[0]))
    if warm is not None and cold is not None and warm - cold > APART_C:
        made.append(Offer("warm", round(warm, 1), words[1]))
    at = threshold_c(store, case_id)
    if at is not None:
        made.append(Offer("threshold", round(at, 1), "where the module changes its mind"))
    return tuple(made)


def heard_c(
    store: Store, case_id: str | None, circuit: Circuit
) -> tuple[float | None, float | None]:
    """Coldest and warmest the real sensor was heard at in the case's recordings. [degC]"""
    if case_id is None:
        return None, None
    curve = circuit.sensor.curve
    low, high = curve.domain_ohm
    heard: list[float] = []
    for drive in store.drives(case_id):
        for review in store.reviews(drive.id)[-1:]:
            track = (m / 1000 for m in review.result.get("temperature", {}).get("milliohm", ()))
            heard += [float(curve.temperature_c(ohm)) for ohm in track if low < ohm < high]
    if not heard:
        return None, None
    heard.sort()
    beyond = int(len(heard) * EDGE)
    return heard[beyond], heard[-1 - beyond]


def read_c(readings: str | None) -> tuple[float | None, float | None]:
    """Coldest and warmest of readings as typed; None where there are none. [degC]"""
    if not readings or "=" not in readings:
        return None, None
    try:
        celsius = sorted(c for c, _ in readings_typed(readings))
    except Refused:
        return None, None
    return celsius[0], celsius[-1] if len(celsius) > 1 else None


def threshold_c(store: Store, case_id: str | None) -> float | None:
    """The middle of the newest measured threshold's two ways. [degC]"""
    found = store.findings(case_id, "threshold") if case_id else ()
    if not found:
        return None
    body = found[-1].body
    return (float(body["rising_c"]) + float(body["falling_c"])) / 2
