"""A drive's decoded record as tables for people. The raw blocks beside them are what counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, TextIO

from locum.casebook.plainfiles import Column, add_rows, begin_csv

_T = Column("t_s", "s", "board time since the drive's start")

_SAMPLES = (
    _T,
    Column("span_s", "s", "time this row covers; quiet rows are merged"),
    Column("count", "", "readings in it"),
    Column("node_min_v", "V", "least voltage on the module's input"),
    Column("node_mean_v", "V", "mean voltage on the module's input"),
    Column("node_max_v", "V", "greatest voltage on the module's input"),
    Column("ohm_min_ohm", "ohm", "least reading of the ohmmeter; empty where it was not read"),
    Column("ohm_mean_ohm", "ohm", "mean reading of the ohmmeter; 'open' beyond its range"),
    Column("ohm_max_ohm", "ohm", "greatest reading of the ohmmeter"),
    Column("source", "", "real: the module saw the sensor; stand_in: it saw ours; moving: between"),
)
_EDGES = (
    _T,
    Column("line", "", "watch line, 1 to 6"),
    Column("level", "", "1: voltage high at the pin, before polarity"),
)
_DUTIES = (_T, Column("line", "", "watch line"), Column("high", "1", "share of time high in 50 ms"))
_AUX = (_T, Column("channel", "", "name"), Column("value", "", "value"), Column("unit", "", "unit"))
_EVENTS = (
    _T,
    Column("what", "", "mark, move, state or gap of the record"),
    Column("name", "", "which"),
    Column("value", "", "ms ago of a mark, node of a step in V, cause of a state, until of a gap"),
)

_SOURCES = {0: "real", 1: "stand_in", 2: "moving"}
_MARKS = ("button", "key", "foot", "brake", "road", "felt", "not_felt")
_MOVES = ("relay_on", "relay_off", "step", "open", "short", "through", "follow", "return")
_AUX_NAMES = {
    0: ("throttle", 1e-4, "V"),
    1: ("return_offset", 1e-4, "V"),
    2: ("usb_supply", 1e-4, "V"),
    3: ("pot_supply", 1e-4, "V"),
    4: ("board", 1e-3, "degC"),
    5: ("speed", 1e-2, "km/h"),
}
_OPEN_MILLIOHM = 2**30 - 1


_TABLES = {
    "samples": _SAMPLES,
    "edges": _EDGES,
    "duties": _DUTIES,
    "slow-channels": _AUX,
    "board-events": _EVENTS,
}


def write_tables(
    chunks: Iterable[Any],
    begin: Callable[[str], TextIO],
    *,
    about: str = "",
    decimal_comma: bool = False,
) -> None:
    """``review.chunk.Chunk`` objects in their order as CSV, into the file that ``begin`` makes for
    each table that has a row.

    Each chunk is written before the next is asked for: ten hours of record are some hundred
    megabytes as text, and many times that as lists of numbers.
    """
    texts: dict[str, TextIO] = {}
    for chunk in chunks:
        for name, rows in _rows_of(chunk):
            if name not in texts:
                rows = list(rows)
                if not rows:
                    continue
                texts[name] = begin(name)
                head = f"{about}: {name}" if about else name
                begin_csv(texts[name], _TABLES[name], about=head, decimal_comma=decimal_comma)
            add_rows(texts[name], rows, decimal_comma=decimal_comma)


def _rows_of(chunk: Any) -> Iterator[tuple[str, Iterable[list[Any]]]]:
    yield "samples", _samples(chunk.samples)
    yield "edges", ([t_ms / 1e3, line, level] for t_ms, line, level in chunk.edges.tolist())
    duties = chunk.duties.tolist()
    yield "duties", ([t_ms / 1e3, line, permille / 1e3] for t_ms, line, permille in duties)
    yield "slow-channels", _aux(chunk.aux)
    yield "board-events", _events(chunk)


def _samples(samples: Any) -> Iterator[list[Any]]:
    for row in samples.tolist():
        t_ms, span_ms, count, *node_and_ohm, source = row
        node = [round(value * 1e-4, 4) for value in node_and_ohm[:3]]
        ohm = [_ohm(value) for value in node_and_ohm[3:]]
        yield [t_ms / 1e3, span_ms / 1e3, count, *node, *ohm, _SOURCES.get(source, source)]


def _ohm(milliohm: int) -> float | str | None:
    if milliohm < 0:
        return None
    return "open" if milliohm >= _OPEN_MILLIOHM else milliohm / 1e3


def _aux(aux: Any) -> Iterator[list[Any]]:
    for t_ms, channel, value in aux.tolist():
        name, scale, unit = _AUX_NAMES.get(channel, (f"channel {channel}", 1.0, ""))
        yield [t_ms / 1e3, name, round(value * scale, 6), unit]


def _events(chunk: Any) -> Iterator[list[Any]]:
    rows = [[t / 1e3, "mark", _named(_MARKS, kind), ago] for t, kind, ago in chunk.marks.tolist()]
    for t, kind, value in chunk.moves.tolist():
        is_step = _named(_MOVES, kind) == "step"
        rows.append(
            [t / 1e3, "move", _named(_MOVES, kind), round(value * 1e-4, 4) if is_step else None]
        )
    rows += [[t / 1e3, "state", state, cause] for t, state, cause in chunk.states.tolist()]
    rows += [[t / 1e3, "gap", lost, until / 1e3] for t, until, lost in chunk.gaps.tolist()]
    yield from sorted(rows, key=lambda row: row[0])


def _named(names: tuple[str, ...], code: int) -> str:
    return names[code] if code < len(names) else str(code)
