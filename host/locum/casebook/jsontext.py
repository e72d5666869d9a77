"""JSON as the casebook writes it: one form, so that equal things are equal bytes."""

from __future__ import annotations

import dataclasses
import json
import math
import zlib
from typing import Any

from locum.errors import FileTrouble, Remark


def plain(value: Any) -> Any:
    """``value`` in JSON's own types, to any depth.

    Dataclasses become dicts, numpy scalars and arrays numbers and lists; a number that is not
    finite becomes ``None`` (JSON has no word for it), a key becomes text, anything else its ``str``.
    Lone surrogates, which no UTF-8 file can hold, become ``?``.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        names = [item.name for item in dataclasses.fields(value)]
        return {name: plain(getattr(value, name)) for name in names}
    if isinstance(value, dict):
        return {clean(str(key)): plain(item) for key, item in value.items()}
    if callable(as_list := getattr(value, "tolist", None)):  # numpy scalars and arrays
        return plain(as_list())
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain(item) for item in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, (int, bool)):
        return value
    return clean(str(value))


def clean(text: str) -> str:
    """``text`` without lone surrogates, so that it can be written as UTF-8."""
    return text.encode("utf-8", "replace").decode("utf-8")


def written(value: Any) -> str:
    """``value`` as compact JSON text; keys keep their order."""
    return json.dumps(plain(value), ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def read(text: str) -> Any:
    """What ``written`` wrote. ``FileTrouble`` if the disk has changed the row since."""
    try:
        return json.loads(text)
    except ValueError as error:
        raise FileTrouble(
            Remark(
                "casebook_damaged",
                "a row of the casebook",
                "JSON as it was written",
                str(error),
                "run 'locum case check', which names what is damaged",
            )
        ) from error


def crc(data: str | bytes) -> int:
    """CRC-32 of text (as UTF-8) or bytes, to find a row that the disk has changed."""
    return zlib.crc32(data.encode("utf-8") if isinstance(data, str) else data)
