"""Results as plain JSON: numpy, dataclasses, infinities and bytes turned into what JSON has."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np

from locum.errors import Remark


def plain_json(value: Any) -> Any:
    """``value`` with only dict, list, str, int, float, bool and None; not-a-number becomes None."""
    if isinstance(value, Remark):
        return value.as_json()
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain_json(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(k): plain_json(v) for k, v in value.items()}
    if isinstance(value, list | tuple | set):
        return [plain_json(v) for v in value]
    if isinstance(value, np.ndarray):
        return plain_json(value.tolist())
    if isinstance(value, np.generic):
        return plain_json(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, bytes):
        return value.hex()
    return value


class Result:
    """Mixin of every job's result: the dataclass is the JSON."""

    def as_json(self) -> dict[str, Any]:
        return plain_json(self)
