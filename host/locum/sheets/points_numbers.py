"""Numbers as people write them in a table: decimal commas, a k for kilohm."""

from __future__ import annotations

import math
import re

_SUFFIX = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6}
_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*([kKM]?)")


def number_of(text: str) -> float | None:
    """A number written with point or comma, maybe with k or M; None if it is none.

    ``1,5k`` and ``1.5k`` are 1500. With both comma and point the last is the decimal one. Three digits
    after a lone comma (``1,234``) are decimals here: a resistance table means 1.234 with a
    decimal comma more often than a thousand, and the echo shows what was read.
    """
    written = text.strip().replace("\u2212", "-").replace("\u00a0", "").replace(" ", "")
    if "," in written and "." in written:
        thousands = "," if written.rfind(".") > written.rfind(",") else "."
        written = written.replace(thousands, "")
    match = _NUMBER.fullmatch(written)
    if match is None:
        return None
    value = float(match[1].replace(",", ".")) * _SUFFIX[match[2]]
    return value if math.isfinite(value) else None
