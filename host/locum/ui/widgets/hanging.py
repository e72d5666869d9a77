"""Rows of text in columns that keep their columns where a row must go on below itself."""

from __future__ import annotations

import re
import textwrap

from textual.geometry import Size
from textual.widgets import Static

FURTHEST = 26
"""A column that begins further right is none. [cells]"""


class Hanging(Static):
    """What does not fit into a row goes on below, indented to where the row's last column begins."""

    def render(self) -> str:
        return self._broken(self.content_size.width)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return self._broken(width).count("\n") + 1 if str(self.content) else 0

    def _broken(self, width: int) -> str:
        text = str(self.content)
        return hung(text, width) if width > 0 else text


def hung(text: str, width: int) -> str:
    """Each row broken between words, its later parts indented to where its last column begins."""
    return "\n".join(_hung(line, width) for line in text.split("\n"))


def _hung(line: str, width: int) -> str:
    if len(line) <= width:
        return line
    ends = [m.end() for m in re.finditer(r" {2,}", line) if m.end() <= FURTHEST]
    indent = ends[-1] if ends and ends[-1] < width // 2 else 0
    rows = textwrap.wrap(line[indent:], width - indent, break_on_hyphens=False) or [""]
    return ("\n" + " " * indent).join([line[:indent] + rows[0], *rows[1:]])
