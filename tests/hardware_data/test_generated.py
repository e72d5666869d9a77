"""What is generated is up to date, and comes out the same again."""

from pathlib import Path

import build
import starter_limits

HARDWARE = Path(build.__file__).parent


def test_generated_files_are_up_to_date_to_the_byte():
    made = build.made()
    stale = [name for name, text in made.items() if (HARDWARE / name).read_text() != text]
    assert stale == [], "run: python hardware/build.py"
    kept = {
        str(path.relative_to(HARDWARE))
        for folder in ("netlists", "bom", "circuits", "drawings")
        for path in (HARDWARE / folder).iterdir()
        if path.name != ".gitkeep"
    }
    assert kept == {name for name in made if not name.startswith("boards/")}


def test_drawings_name_every_part(board, starter_board):
    for circuit in (board, starter_board):
        found = build.drawings(circuit)
        for part in circuit.parts.values():
            if part.block in ("harness", "carriers"):
                continue
            for kind in ("", "strips_"):
                assert part.ref in found[f"{circuit.name}_{kind}{part.block}.svg"]


def test_starter_limits_agree_with_the_settled_figures():
    # settled beforehand, nominal parts: A 14..209, B -11..137 degC
    import tomllib

    spans = starter_limits.spans(tomllib.loads(starter_limits.SHEET.read_text()))
    ends = {span.curve: (round(span.cold_c), round(span.hot_c)) for span in spans}
    assert ends["A"][0] == 14
    assert abs(ends["A"][1] - 209) <= 2
    assert ends["B"] == (-11, 137)
