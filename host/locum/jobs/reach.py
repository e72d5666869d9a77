"""Which circuits this is for, which never, and where one can reach them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from locum.errors import Misuse, Refused, Remark
from locum.jobs.cases import kept_casebook

CIRCUITS = {
    "coolant": "coolant",
    "transmission fluid": "transmission",
    "intake air": "intake",
    "oil": "oil",
    "outside air": "outside",
    "cabin or evaporator": "cabin",
}
"""What a person says -> name in a sensor sheet."""

FORBIDDEN = {
    "restraint": r"restraint|air ?bags?|srs|seat ?belts?|pretension\w*|occupant",
    "high voltage": r"high[- ]voltage|hybrid|traction batter\w+|hv|inverter|ev batter\w+",
    "brake": r"brakes?|abs|esp|stability",
    "steering": r"steering|eps",
    "throttle-by-wire": r"throttle|accelerator|pedal",
    "immobiliser": r"immobili[sz]er|key ?less|alarm",
}
"""Circuit -> the words that name it."""

WHY = {
    "restraint": "a wrong value there can fire or silence an airbag",
    "high voltage": "it can kill, and its sensors guard a battery against fire",
    "brake": "two people's lives hang on it",
    "steering": "two people's lives hang on it",
    "throttle-by-wire": "the car may run away",
    "immobiliser": "it is a theft guard, and may lock for good",
}

PLACES = {
    "sensor": ("sensor plug", "the adapter goes between the plug and the sensor; everything can be done"),
    "module": ("module plug", "only the signal wire is opened, ground and supply never; wiring faults "
               "between there and the sensor are seen, the module's own pins are not"),
    "splice": ("a splice in between", "as at the module plug; solder and seal it afterwards"),
    "nowhere": ("nowhere", "a case of marks alone: nothing is connected, rides with and without a change "
                "are compared by what is felt. It takes more hours, and cannot tell sensor from wiring"),
}  # fmt: skip
"""Where one can reach -> its name on screens, and what that means for the case."""


TAPS = {"sensor": "sensor", "module": "module", "splice": "module", "nowhere": "none"}
"""Where one can reach -> the end the case is tapped at. Beyond a splice there is wiring as well as
the sensor, so it is judged as the module's end."""


@dataclass(frozen=True)
class Named:
    """A circuit as a person named it."""

    words: str
    sheet: str
    """Name in a sensor sheet; empty for one that is not on the list."""


def refused_circuit(words: str) -> Remark | None:
    """Why this may never be put on the circuit of that name; None if it may."""
    for name, pattern in FORBIDDEN.items():
        if re.search(rf"\b(?:{pattern})\b", words.lower()):
            return Remark("forbidden_circuit", words, "a plain temperature sensor's circuit",
                          f"one of {name}: {WHY[name]}", "leave that circuit alone")  # fmt: skip
    return None


def circuit_of(words: str) -> Named:
    """The circuit that words or their first letters name; Refused for a forbidden one."""
    text = " ".join(words.lower().split())
    refused = refused_circuit(text)
    if refused:
        raise Refused(refused)
    found = [name for name in CIRCUITS if text and any(
        part.startswith(text) for part in (name, *name.split()))]  # fmt: skip
    if text in CIRCUITS:
        found = [text]
    if len(found) == 1:
        return Named(found[0], CIRCUITS[found[0]])
    if "=" in text or any(part.isdigit() for part in text):
        raise Misuse(Remark("circuit", "circuit", "one of " + ", ".join(CIRCUITS),
                            f"'{words}', which looks like a reading",
                            "say first which circuit; the reading comes next"))  # fmt: skip
    if found or len(text) < 4:
        raise Misuse(Remark("circuit", "circuit", "one of " + ", ".join(CIRCUITS),
                            f"'{words}'" if not found else f"'{words}': {' or '.join(found)}?",
                            "type a few letters more"))  # fmt: skip
    return Named(text, "")


def place_of(words: str) -> str:
    """Key of ``PLACES`` that words or their first letters name; Misuse if none."""
    text = words.strip().lower()
    found = [k for k, (name, _) in PLACES.items() if text and (k.startswith(text) or text in name)]
    if len(found) != 1:
        raise Misuse(Remark("reach", "reach", "sensor, module, splice or nowhere", f"'{words}'",
                            "type one of these"))  # fmt: skip
    return found[0]


def keep_reach(place: str, case_id: str, casebook: str | None = None) -> None:
    """Where one can reach, as a field of the case: it decides what a result can mean."""
    with kept_casebook(casebook) as store:
        store.change_case(store.case_id_from(case_id), {"tap": {"end": TAPS[place]}})
