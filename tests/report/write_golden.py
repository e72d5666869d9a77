"""Writes the golden texts of the report's pages anew; look at what changed before committing."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from test_page import GOLDEN, STYLES, lines_of

from conftest import halden_case
from locum.report import render_case

if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for style in STYLES:
        text = lines_of(render_case(halden_case(), style))
        (GOLDEN / f"{style}.txt").write_text(text, "utf-8")
