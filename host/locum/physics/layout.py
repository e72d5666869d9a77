"""How the parts of a network hang together: a small tree, written as text in the board sheet.

``R0 + (P1 | P2 | HOT1 | 470)``: ``+`` is series, ``|`` is side by side and binds weaker than
``+``, brackets group, names are wipers or switched branches, plain numbers are fixed resistors in
ohm. ``R0`` is the sheet's ``series_ohm``. A wiper that left and a branch that is off are open.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

TOKEN = re.compile(r"\s*([A-Za-z_]\w*|\d+(?:\.\d+)?(?:[eE][+-]?\d+)?|[()+|])")


@dataclass(frozen=True)
class Leaf:
    """One resistor: a name to be looked up."""

    name: str

    def ohm(self, leaves: Mapping[str, np.ndarray]) -> np.ndarray:
        return leaves[self.name]

    def share(self, leaves: Mapping[str, np.ndarray], current, into: dict[str, np.ndarray]) -> None:
        into[self.name] = current


@dataclass(frozen=True)
class Fixed:
    """One resistor that never changes."""

    value_ohm: float

    def ohm(self, leaves: Mapping[str, np.ndarray]) -> np.ndarray:
        return np.asarray(self.value_ohm)

    def share(self, leaves: Mapping[str, np.ndarray], current, into: dict[str, np.ndarray]) -> None:
        return None


@dataclass(frozen=True)
class Series:
    parts: tuple[Element, ...]

    def ohm(self, leaves: Mapping[str, np.ndarray]) -> np.ndarray:
        total = np.asarray(0.0)
        for part in self.parts:
            total = total + part.ohm(leaves)
        return total

    def share(self, leaves: Mapping[str, np.ndarray], current, into: dict[str, np.ndarray]) -> None:
        for part in self.parts:
            part.share(leaves, current, into)


@dataclass(frozen=True)
class Parallel:
    parts: tuple[Element, ...]

    def ohm(self, leaves: Mapping[str, np.ndarray]) -> np.ndarray:
        with np.errstate(divide="ignore"):
            siemens = sum((1.0 / part.ohm(leaves) for part in self.parts), np.asarray(0.0))
            return 1.0 / siemens

    def share(self, leaves: Mapping[str, np.ndarray], current, into: dict[str, np.ndarray]) -> None:
        whole = self.ohm(leaves)
        for part in self.parts:
            ohm = part.ohm(leaves)
            with np.errstate(invalid="ignore"):
                split = np.where(np.isinf(ohm), 0.0, whole / ohm)
            part.share(leaves, current * np.nan_to_num(split), into)


Element = Leaf | Fixed | Series | Parallel


def parse_layout(text: str) -> Element:
    """The tree of a layout's text.

    Raises
    ------
    ValueError
        With the place of the first thing that is not understood.
    """
    tokens: list[str] = []
    place = 0
    text = text.strip()
    while place < len(text):
        match = TOKEN.match(text, place)
        if not match:
            raise ValueError(f"'{text[place:]}' is no name, number, bracket, + or |")
        tokens.append(match.group(1))
        place = match.end()
    tree = _side_by_side(tokens)
    if tokens:
        raise ValueError(f"'{tokens[0]}' is left over at the end")
    return tree


def leaf_names(element: Element) -> list[str]:
    """Names in the order of the text, repeated ones too."""
    if isinstance(element, Leaf):
        return [element.name]
    if isinstance(element, Fixed):
        return []
    return [name for part in element.parts for name in leaf_names(part)]


def _side_by_side(tokens: list[str]) -> Element:
    parts = [_in_series(tokens)]
    while tokens and tokens[0] == "|":
        tokens.pop(0)
        parts.append(_in_series(tokens))
    return parts[0] if len(parts) == 1 else Parallel(tuple(parts))


def _in_series(tokens: list[str]) -> Element:
    parts = [_single(tokens)]
    while tokens and tokens[0] == "+":
        tokens.pop(0)
        parts.append(_single(tokens))
    return parts[0] if len(parts) == 1 else Series(tuple(parts))


def _single(tokens: list[str]) -> Element:
    if not tokens:
        raise ValueError("a part is missing at the end")
    token = tokens.pop(0)
    if token == "(":
        inner = _side_by_side(tokens)
        if not tokens or tokens.pop(0) != ")":
            raise ValueError("a closing bracket is missing")
        return inner
    if token in "+|)":
        raise ValueError(f"a part is missing before '{token}'")
    if token[0].isdigit():
        return Fixed(float(token))
    return Leaf(token)
