"""What a hit shows: some words around the match, on one line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from locum.casebook.synonyms import Phrase, folded


def one_line(text: Any) -> str:
    """The lines of a text in one, parted by dots."""
    return " · ".join(part.strip() for part in str(text).splitlines() if part.strip())


def snippet(words: str, terms: Sequence[Sequence[Phrase]]) -> str:
    """Some words around the first match, every match in square brackets.

    Matches are sought in the folded text; where folding changes its length (accents written
    apart), positions do not carry over and the beginning is shown instead.
    """
    plain = folded(words)
    if len(plain) != len(words):
        return one_line(words[:120])
    phrases = sorted({r"[\W_]+".join(map(re.escape, phrase)) for term in terms for phrase in term})
    # Longer expressions first; a match is shown to its word's end, as the index finds beginnings.
    either = "|".join(sorted(phrases, key=len, reverse=True))
    spans = [match.span() for match in re.finditer(rf"\b(?:{either})\w*", plain)]
    if not spans:
        return one_line(words[:120])
    start, end = max(spans[0][0] - 50, 0), spans[0][0] + 90
    out, at = ["…" if start else ""], start
    for low, high in spans:
        if low >= at and high <= end:
            out += [words[at:low], "[", words[low:high], "]"]
            at = high
    return one_line("".join([*out, words[at:end], "…" if end < len(words) else ""]))
