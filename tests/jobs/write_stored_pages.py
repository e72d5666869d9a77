"""Writes the golden pages of a stored case anew; look at what changed before committing."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from test_case_page import GOLDEN, normalised, repaired_case, stored

from locum.jobs.case_report import case_page
from locum.report import render_case

if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    with stored() as store:
        case = repaired_case(store)
        for style in ("workshop", "customer"):
            page = render_case(case_page(store, case).as_dict(), style=style)
            (GOLDEN / f"stored_{style}.txt").write_text(normalised(page) + "\n", "utf-8")
