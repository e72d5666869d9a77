"""Where the keys of a TOML text stand: tomllib tells no lines, and a person wants them."""

from __future__ import annotations

import re

_HEADER = re.compile(r"^\s*\[{1,2}\s*([^\]]+?)\s*\]{1,2}")
_KEY = re.compile(r"^\s*([A-Za-z0-9_.\-\"]+)\s*=")


def line_index(text: str) -> dict[tuple, int]:
    """Line number of every key and header: ``("segment", 1, "ramp") -> 17``.

    Arrays of tables count from 0. A key inside an inline table has the line of its table.
    """
    lines: dict[tuple, int] = {}
    counts: dict[tuple, int] = {}
    here: tuple = ()
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header and "=" not in line.split("]")[0]:
            path: tuple = ()
            names = [part.strip().strip('"') for part in header.group(1).split(".")]
            for depth, name in enumerate(names):
                path += (name,)
                if line.lstrip().startswith("[[") and depth == len(names) - 1:
                    counts[path] = counts.get(path, -1) + 1
                if path in counts:
                    path += (counts[path],)
            here = path
            lines.setdefault(here, number)
        elif key := _KEY.match(line):
            lines.setdefault(here + tuple(key.group(1).strip('"').split(".")), number)
    return lines
