"""How long a workshop waits for its casebook of many years.

``python tests/benchmarks/bench_casebook.py [--cases 5000] [--drives 20000] [--short]``

Fills a casebook on disk with generated cases and drives and times what a person does first: opening
it, the newest cases, a first page of found cases (one common word, two terms, one letter,
nothing found), by signature, and what similar cases turned out to be; all of it again
without FTS5. Each is the best of several runs, every one on a freshly opened file: what the casebook
needs, where neighbours leave it the processor. Limit: 100 ms for every first page. Last line sums up; exit 1 if a limit is missed.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from locum.casebook.alike import Criteria
from locum.casebook.store import Store

LIMIT_MS = 100.0
PAGE = 20

_FAMILIES = ("Halden P4", "Ostra 300", "Velling D", "Marn 2", "Tarv Kombi", "Brenna L")
_COMPONENTS = ("coolant sensor circuit", "transmission oil sensor", "intake air sensor")
_CAUSES = ("sensor", "connector", "harness", "module ground", "nothing found")
_TALK = (
    "kicks out drops out of top gear overdrive flares at lights hunts on hills fan runs when wet in "
    "rain after an hour on the motorway cold mornings converter clutch lets go starts badly stalls "
    "radiator dashboard lamp hesitates shudders towing trailer bumpy road car wash frost smell noise"
)
_WORDS = _TALK.split()


def fill(store: Store, cases: int, drives: int, chance: random.Random) -> None:
    """One transaction; a workshop writes the same rows over years."""
    with store.db.transaction():
        ids = [one_case(store, number, chance) for number in range(cases)]
        for number in range(drives):
            drive_id = store.begin_drive("listen", ids[number % cases], {"serial": "7"})
            store.append(drive_id, [chance.randbytes(400)], [(0, 0, 1.0)])
            store.add_review(drive_id, "review 1", {"kick_outs": number % 4})


def one_case(store: Store, number: int, chance: random.Random) -> str:
    family, component = chance.choice(_FAMILIES), chance.choice(_COMPONENTS)
    case_id = store.new_case(
        {
            "title": f"{family}: {' '.join(chance.sample(_WORDS, 4))}",
            "vehicle": {"family": family, "year": 1990 + number % 35, "odometer_km": number * 17},
            "component": component,
            "complaint": {"words": " ".join(chance.choices(_WORDS, k=40))},
        }
    )
    store.add_finding(
        case_id,
        "signature",
        {"towards": chance.choice(("cold", "hot")), "length_ms": [20, 20 + chance.random() * 400],
         "threshold_c": chance.uniform(0, 90)},
    )  # fmt: skip
    store.add_finding(case_id, "found", {"cause": chance.choice(_CAUSES)})
    return case_id


def timed_ms(path: Path, ask: Callable[[Store], object], runs: int, has_fts: bool) -> float:
    """Best time of a question, each run on a freshly opened file."""
    took = []
    for _ in range(runs):
        with Store.open(path) as store:
            store.has_fts = store.has_fts and has_fts
            begin = time.perf_counter()
            ask(store)
            took.append((time.perf_counter() - begin) * 1000)
    return min(took)


def questions() -> dict[str, Callable[[Store], object]]:
    like = Criteria(component="coolant", towards="cold", threshold_c=(40.0, 50.0))
    return {
        "newest cases": lambda store: store.cases(limit=PAGE),
        "newest, page 100": lambda store: store.cases(limit=PAGE, offset=PAGE * 99),
        "find nothing typed": lambda store: store.find("", PAGE),
        "find a common word": lambda store: store.find("rain", PAGE),
        "find two terms": lambda store: store.find("drops out of overdrive wet", PAGE),
        "find one letter": lambda store: store.find("c", PAGE),
        "find nothing there": lambda store: store.find("zeppelin", PAGE),
        "by signature": lambda store: store.find_like(like, PAGE),
        "what similar cases were": lambda store: store.similar(like).sentence,
        "a case and its drives": lambda store: store.drives(store.cases(limit=1)[0].id),
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--cases", type=int, default=5000)
    parser.add_argument("--drives", type=int, default=20000)
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--short", action="store_true", help="same sizes, three runs")
    options = parser.parse_args()
    runs = 3 if options.short else options.runs
    with tempfile.TemporaryDirectory(prefix="locum-bench-") as name:
        path = Path(name) / "casebook.sqlite"
        begin = time.perf_counter()
        with Store.open(path) as store:
            fill(store, options.cases, options.drives, random.Random(7))
        size_mb = path.stat().st_size / 2**20
        print(
            f"{options.cases} cases, {options.drives} drives, {size_mb:.0f} MB, "
            f"filled in {time.perf_counter() - begin:.1f} s"
        )
        opening = []
        for _ in range(runs):
            begin = time.perf_counter()
            Store.open(path).close()
            opening.append((time.perf_counter() - begin) * 1000)
        worst, missed = 0.0, 0
        print(f"{'open':26} {min(opening):8.1f} ms")
        for title, ask in questions().items():
            with_index, without = (timed_ms(path, ask, runs, fts) for fts in (True, False))
            missed += with_index > LIMIT_MS
            worst = max(worst, with_index)
            print(f"{title:26} {with_index:8.1f} ms   without FTS5 {without:8.1f} ms")
    print(
        f"bench_casebook: slowest first page {worst:.1f} ms, limit {LIMIT_MS:.0f} ms: "
        f"{'kept' if not missed else f'{missed} missed'}"
    )
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
