"""All benchmarks in one run: tables, limits, a last line that sums up; exit 1 if a limit is missed.

    python tests/benchmarks/run.py [--full] [--boards N] [--only WORD]

Every ``bench_*.py`` beside this file is one benchmark. It has either

- ``tables(boards: int, full: bool) -> list[Table]`` (see table.py), whose limits are counted one by
  one; ``boards`` is how many random boards a campaign may take, ``full`` asks for the whole of it; or
- ``main() -> int``, which prints and returns 0 if its limits are kept; it counts as one limit.

``--full`` takes the 2,000 boards of the calibration campaign and long versions elsewhere: about half an
hour on two cores, of which the boards take 10 min on idle cores and 25 on busy ones.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

BOARDS = 12
FULL_BOARDS = 2000


def loaded(path: Path):
    """The module of one file."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


def outcome(module, boards: int, full: bool) -> list[tuple[str, bool]]:
    """Run one benchmark, print it, and say which limits it kept."""
    if hasattr(module, "tables"):
        kept = []
        for table in module.tables(boards=boards, full=full):
            print(table, end="\n\n", flush=True)
            kept += [(f"{table.title}: {limit.name}", limit.kept) for limit in table.limits]
        return kept
    arguments, sys.argv = sys.argv, [str(module.__file__)]
    try:
        code = module.main()
    finally:
        sys.argv = arguments
    print(flush=True)
    return [(module.__name__, not code)]


def main() -> int:
    parser = argparse.ArgumentParser(description="Run the benchmarks and print their tables.")
    parser.add_argument("--full", action="store_true", help=f"{FULL_BOARDS} boards, long versions")
    parser.add_argument("--boards", type=int, help="random boards of a campaign")
    parser.add_argument("--only", default="", help="benchmarks with this word in their file's name")
    options = parser.parse_args()
    boards = options.boards or (FULL_BOARDS if options.full else BOARDS)
    results: list[tuple[str, bool]] = []
    begin = time.monotonic()
    for path in sorted(HERE.glob("bench_*.py")):
        if options.only in path.stem:
            results += outcome(loaded(path), boards, options.full)
    missed = [name for name, kept in results if not kept]
    for name in missed:
        print(f"missed: {name}")
    seconds = time.monotonic() - begin
    print(f"{len(results) - len(missed)} of {len(results)} limits kept in {seconds:.0f} s")
    return 1 if missed or not results else 0


if __name__ == "__main__":
    raise SystemExit(main())
