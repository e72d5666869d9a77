"""Ids that sort by the time they were made and never meet, also between workshops.

```
    48 bits               80 bits
    milliseconds, UTC     chance, counted on within one millisecond
    10 characters         16 characters        Crockford's base 32
```
"""

from __future__ import annotations

import secrets
from collections.abc import Callable

_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_CHANCE_BITS = 80
LENGTH = 26


def id_from_number(number: int) -> str:
    """The 26 characters of a number below 2^128."""
    digits = []
    for _ in range(LENGTH):
        number, digit = divmod(number, 32)
        digits.append(_LETTERS[digit])
    return "".join(reversed(digits))


def number_from_id(text: str) -> int:
    """The number again; ``ValueError`` if ``text`` is not such an id."""
    if not is_id(text):
        raise ValueError(f"'{text}' is not an id")
    number = 0
    for letter in text:
        number = number * 32 + _LETTERS.index(letter)
    return number


def is_id(text: str) -> bool:
    """Whether a text has the form of an id."""
    return len(text) == LENGTH and text[0] in "01234567" and all(c in _LETTERS for c in text)


def made_ms(text: str) -> int:
    """When an id was made. [ms since 1970, UTC]"""
    return number_from_id(text) >> _CHANCE_BITS


class IdMaker:
    """Makes ids that only ever rise, even where the clock is set back."""

    def __init__(
        self,
        now_ms: Callable[[], int],
        newest: str | None = None,
        chance: Callable[[int], int] = secrets.randbits,
    ) -> None:
        self._now_ms = now_ms
        self._chance = chance
        self._last = number_from_id(newest) if newest and is_id(newest) else 0

    def new(self) -> str:
        """An id that sorts after all before it."""
        now = min(max(int(self._now_ms()), 0), 2**48 - 1)
        if now > self._last >> _CHANCE_BITS:
            self._last = (now << _CHANCE_BITS) | self._chance(_CHANCE_BITS)
        else:
            self._last += 1 + self._chance(40)
        return id_from_number(self._last)
