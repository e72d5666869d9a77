"""Reading a TOML sheet: every fault is collected with its line, none stops the reading.

A :class:`SheetText` holds the text, the parsed data and a growing list of remarks. Tables hand out
checked values; a value that is missing or wrong is noted and replaced by its default, so that one
pass finds everything. :meth:`SheetText.finish` then refuses the sheet with all faults together,
unknown keys included.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Iterable
from typing import Any

from locum.errors import Refused, Remark
from locum.physics.figures import plain
from locum.sheets.line_index import line_index

SCHEMA = 1


def _is_finite(value: float) -> bool:
    """Whether a number of a sheet is one that a float can hold; TOML's whole numbers have no end."""
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


class SheetText:
    """One sheet while it is being read."""

    def __init__(self, text: str, name: str, data: dict[str, Any]) -> None:
        self.text = text
        self.name = name
        self.data = data
        self.remarks: list[Remark] = []
        self._lines = line_index(text)
        self._tables: list[Table] = []

    @classmethod
    def parse(cls, text: str, name: str, check_schema: bool = True) -> SheetText:
        """The sheet's data; refused at once if the text is not TOML at all."""
        try:
            data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise Refused(
                Remark("not_toml", name, "a TOML file", str(error), "mend that line first")
            ) from None
        except RecursionError:
            found = "brackets within brackets, hundreds deep"
            raise Refused(
                Remark("not_toml", name, "a TOML file", found, "is this the right file?")
            ) from None
        sheet = cls(text, name, data)
        if check_schema:
            sheet._check_schema()
        return sheet

    def _check_schema(self) -> None:
        found = self.data.pop("schema", None)
        if found != SCHEMA:
            newer = isinstance(found, int) and found > SCHEMA
            self.remark(
                "schema", ("schema",), f"schema = {SCHEMA}", f"schema = {found}",
                "use a newer locum for this sheet" if newer else f"add the line schema = {SCHEMA}",
            )  # fmt: skip

    def where(self, path: tuple) -> str:
        """``name, line 12 (segment 2, ramp)`` as exactly as the text allows."""
        line = next(
            (self._lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in self._lines),
            None,
        )
        words = " ".join(str(p + 1) if isinstance(p, int) else p for p in path)
        head = f"{self.name}, line {line}" if line else self.name
        return f"{head} ({words})" if words else head

    def remark(self, code: str, path: tuple, wanted: str, found: str, remedy: str = "") -> None:
        self.remarks.append(Remark(code, self.where(path), wanted, found, remedy))

    def table(self) -> Table:
        return Table(self, self.data, ())

    def finish(self) -> None:
        """Refuse the sheet if anything was wrong with it."""
        for table in self._tables:
            table.report_unknown()
        if self.remarks:
            raise Refused(self.remarks)


class Table:
    """Checked access to one table of a sheet."""

    def __init__(self, sheet: SheetText, data: dict[str, Any], path: tuple) -> None:
        self._sheet, self._data, self._path = sheet, data, path
        self._known: set[str] = set()
        self._wrong: set[str] = set()
        sheet._tables.append(self)

    def __contains__(self, key: str) -> bool:
        return key in self._data

    def __iter__(self):
        return iter(self._data)

    def remark(self, code: str, key: str, wanted: str, found: str, remedy: str = "") -> None:
        self._wrong.add(key)
        path = (*self._path, key) if key else self._path
        self._sheet.remark(code, path, wanted, found, remedy)

    def wrong(self, key: str) -> bool:
        """Whether a fault of that key was noted: what follows from its value is none of its own then."""
        return key in self._wrong

    def know(self, *keys: str) -> None:
        """These keys are legal though nobody asks for them here."""
        self._known.update(keys)

    def raw(self, key: str) -> Any:
        self._known.add(key)
        return self._data.get(key)

    def report_unknown(self) -> None:
        for key in self._data:
            if key not in self._known:
                near = difflib.get_close_matches(key, self._known, n=1)
                hint = f"did you mean {near[0]}?" if near else "take it out"
                known = ", ".join(sorted(self._known)) or "no keys"
                self.remark("unknown_key", key, f"one of {known}", f"'{key}'", hint)

    def _missing(self, key: str, wanted: str, required: bool) -> None:
        if required:
            self.remark("missing", key, f"{key}: {wanted}", "nothing", f"add {key}")

    def number(
        self,
        key: str,
        low: float = -math.inf,
        high: float = math.inf,
        default: float | None = None,
        required: bool | None = None,
    ) -> Any:
        """A finite number in [low, high], or the default where absent or wrong."""
        value = self.raw(key)
        wanted = "a number" + (f" from {plain(low, 6)}" if low > -math.inf else "")
        wanted += f" to {plain(high, 6)}" if high < math.inf else ""
        if value is None:
            self._missing(key, wanted, default is None if required is None else required)
            return default
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.remark("not_a_number", key, wanted, repr(value), "write it without quotes")
            return default
        if not (_is_finite(value) and low <= value <= high):
            huge = isinstance(value, int) and not _is_finite(value)
            found = "a whole number beyond all measure" if huge else plain(value, 6)
            self.remark("out_of_range", key, wanted, found, "correct the value")
            return default
        return float(value)

    def whole(
        self, key: str, low: int, high: int, default: int | None = None, required=None
    ) -> Any:
        value = self.number(key, low, high, default, required)
        if value is not None and value != int(value):
            self.remark("not_whole", key, "a whole number", f"{value:g}", "round it")
            return default
        return None if value is None else int(value)

    def text(self, key: str, default: str | None = None) -> Any:
        value = self.raw(key)
        if value is None:
            self._missing(key, "some words", default is None)
            return default
        if not isinstance(value, str):
            self.remark("not_text", key, "words in quotes", repr(value), "put it in quotes")
            return default
        return value

    def choice(self, key: str, options: Iterable[str], default: str | None = None) -> Any:
        options = tuple(options)
        value = self.text(key, default)
        if value is not None and value not in options:
            near = difflib.get_close_matches(str(value), options, n=1)
            hint = f"did you mean {near[0]}?" if near else "choose one of them"
            self.remark("unknown_choice", key, f"one of {', '.join(options)}", repr(value), hint)
            return default
        return value

    def flag(self, key: str, default: bool = False) -> bool:
        value = self.raw(key)
        if value is None:
            return default
        if not isinstance(value, bool):
            self.remark("not_a_flag", key, "true or false", repr(value), "write true or false")
            return default
        return value

    def numbers(self, key: str, count: int | None = None, default=None) -> Any:
        """A list of finite numbers, of that count if one is given."""
        value = self.raw(key)
        wanted = f"{count} numbers in brackets" if count else "numbers in brackets"
        if value is None:
            self._missing(key, wanted, default is None)
            return default
        good = isinstance(value, list) and all(
            isinstance(x, int | float) and not isinstance(x, bool) and _is_finite(x) for x in value
        )
        if not good or (count is not None and len(value) != count):
            self.remark("not_numbers", key, wanted, repr(value), "correct the list")
            return default
        return [float(x) for x in value]

    def table(self, key: str) -> Table:
        """The subtable, empty if absent."""
        value = self.raw(key)
        if value is not None and not isinstance(value, dict):
            self.remark("not_a_table", key, f"a table [{key}]", repr(value), "write it as a table")
        return Table(self._sheet, value if isinstance(value, dict) else {}, (*self._path, key))

    def tables(self, key: str, least: int = 0) -> list[Table]:
        """The tables of ``[[key]]``, at least so many."""
        value = self.raw(key)
        rows = value if isinstance(value, list) else []
        if value is not None and not (
            isinstance(value, list) and all(isinstance(x, dict) for x in value)
        ):
            self.remark("not_tables", key, f"tables [[{key}]]", repr(value), "write it so")
            rows = []
        if len(rows) < least:
            found = f"{len(rows)} of them"
            self.remark("missing", key, f"at least {least} [[{key}]]", found, "add what is missing")
        return [Table(self._sheet, row, (*self._path, key, n)) for n, row in enumerate(rows)]
