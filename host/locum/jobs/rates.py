"""``locum verdict``: two rates compared exactly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from locum.errors import Misuse, Refused, Remark
from locum.jobs.jsontext import Result, plain_json
from locum.settings import load_settings
from locum.sheets.values import events_and_exposure
from locum.verdict import quiet


@dataclass
class CompareResult(Result):
    before: str
    after: str
    comparison: quiet.Comparison

    def as_json(self) -> dict[str, Any]:
        plain = plain_json(self.comparison)
        return {"before": self.before, "after": self.after, **plain}


def compare(before: str, after: str, confidence: float | None = None) -> CompareResult:
    """Events before and after in exposed hours or drives; one-sided, before > after, undoubled."""
    confidence = load_settings().confidence if confidence is None else confidence
    if not 0.5 <= confidence < 1:
        raise Misuse(Remark("confidence", "--confidence", "0.5 up to below 1", f"{confidence:g}"))
    (k1, t1, unit1), (k2, t2, unit2) = _read(before, after)
    if unit1 != unit2:
        raise Misuse(
            Remark(
                "units",
                "verdict",
                "the same exposure on both sides",
                f"{unit1} and {unit2}",
                "give both in hours or both in drives",
            )  # fmt: skip
        )
    if t1 <= 0 or t2 <= 0:
        raise Misuse(Remark("exposure", "verdict", "an exposure above zero", f"{min(t1, t2):g}"))
    if unit1 == "drives":
        result = quiet.compare_drives(k1, int(t1), k2, int(t2), confidence)
    else:
        result = quiet.compare(k1, t1, k2, t2, confidence)
    return CompareResult(before, after, result)


def _read(*typed: str) -> list[tuple[int, float, str]]:
    """Each as (events, exposure, unit); what cannot be read is told of all at once."""
    read, remarks = [], []
    for text in typed:
        try:
            read.append(events_and_exposure(text))
        except Refused as fault:
            remarks += fault.remarks
    if remarks:
        raise Misuse(remarks)
    return read
