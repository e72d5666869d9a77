"""Synonyms: a question in anybody's words, asked in everybody's."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from locum.errors import Remark

SHIPPED = Path(__file__).with_name("synonyms.toml")
OWN_NAME = "synonyms.toml"
"""A workshop's own file, beside its casebook."""

_FILLERS = frozenset(
    [
        "a",
        "an",
        "and",
        "as",
        "at",
        "but",
        "by",
        "for",
        "in",
        "is",
        "it",
        "of",
        "on",
        "or",
        "the",
        "to",
        "when",
        "with",
    ]
)
"""Words nobody means to look for; left out of a question that has others."""

Phrase = tuple[str, ...]


def folded(text: str) -> str:
    """Small letters without accents: ``Öl`` and ``ol`` are looked for alike."""
    if text.isascii():
        return text.lower()
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in apart if not unicodedata.combining(letter))


def tokens(text: str) -> Phrase:
    """The words of a text, folded; anything but letters and digits parts them."""
    return tuple(re.findall(r"[^\W_]+", folded(text)))


@dataclass(frozen=True)
class Synonyms:
    """Groups of expressions that mean the same."""

    groups: tuple[tuple[Phrase, ...], ...] = ()

    def alternatives(self, question: str) -> list[list[Phrase]]:
        """The question as terms that must all be met, each by any of its expressions.

        The longest expression known is taken first, so "converter clutch" is one term and not two.
        """
        words = tokens(question)
        out: list[list[Phrase]] = []
        start = 0
        while start < len(words):
            length, others = self._longest(words[start:])
            term = words[start : start + length]
            if length > 1 or term[0] not in _FILLERS:
                out.append(list(dict.fromkeys([term, *others])))
            start += length
        return out or [[(word,)] for word in words]

    def _longest(self, words: Phrase) -> tuple[int, list[Phrase]]:
        best, others = 1, []
        for group in self.groups:
            for phrase in group:
                if len(phrase) >= best and _begins_with(words, phrase):
                    if len(phrase) > best:
                        others = []
                    best = len(phrase)
                    others.extend(group)
        return best, others


def _begins_with(words: Phrase, phrase: Phrase) -> bool:
    """True also where an ending differs ("flaring", "flares"): from four letters on, one may be
    the beginning of the other."""
    if len(words) < len(phrase):
        return False
    return all(
        word == wanted or (min(len(word), len(wanted)) >= 4 and _same_stem(word, wanted))
        for word, wanted in zip(words, phrase, strict=False)
    )


def _same_stem(one: str, other: str) -> bool:
    shorter, longer = sorted((one, other), key=len)
    return longer.startswith(shorter) and len(longer) - len(shorter) <= 3


def read_synonyms(own: Path | None = None) -> tuple[Synonyms, list[Remark]]:
    """Shipped groups and a workshop's own. A fault in the own file is a remark, not an end: the
    search goes on with what could be read."""
    shipped, _ = _groups(SHIPPED)
    if own is None or not own.is_file():
        return Synonyms(tuple(shipped)), []
    mine, remarks = _groups(own)
    if not remarks and _replaces(own):
        return Synonyms(tuple(mine)), []
    return Synonyms((*shipped, *mine)), remarks


def _replaces(path: Path) -> bool:
    return bool(tomllib.loads(path.read_text("utf-8")).get("replace_shipped"))


def _groups(path: Path) -> tuple[list[tuple[Phrase, ...]], list[Remark]]:
    try:
        table = tomllib.loads(path.read_text("utf-8-sig"))
    except (OSError, ValueError) as error:
        return [], [
            Remark(
                "synonyms_unreadable",
                str(path),
                "a TOML file of synonyms",
                str(error),
                "correct it; until then only the shipped synonyms are used",
            )
        ]
    groups, remarks = [], []
    same = table.get("same", [])
    for number, group in enumerate(same if isinstance(same, list) else [], start=1):
        words = group.get("words") if isinstance(group, dict) else None
        if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
            remarks.append(
                Remark(
                    "synonyms_group",
                    f"{path}, group {number}",
                    'words = ["one", "other"]',
                    repr(words),
                    "correct the group; the others are used",
                )
            )
            continue
        groups.append(tuple(phrase for phrase in map(tokens, words) if phrase))
    return groups, remarks
