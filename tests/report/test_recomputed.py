"""Every number of a report comes out again from what is printed beside it, by a reader with scipy."""

from __future__ import annotations

import re

import numpy as np
import pytest
from scipy import stats

from locum.jobs.case_numbers import _test
from locum.verdict.pooled_numbers import (
    arms_number,
    link_number,
    share_number,
    whole_drives_number,
)
from locum.verdict.tally import Burst, Tally


def drive(real, real_h, masked, masked_h, chances=()):
    made = Tally(hours={("real", "normal"): real_h, ("follow", "normal"): masked_h})
    chances = list(chances) or [0.01] * real
    for n in range(real + masked):
        chance = chances[n] if n < real else 0.0
        made.bursts.append(
            Burst(
                100.0 * n, 0, n >= real, False, False, 1, n < real, True, None, False, False, chance
            )
        )
    return made


DRIVES = [
    drive(4, 1.25, 0, 1.5, (0.003, 0.02, 0.11, 0.004)),
    drive(3, 0.5, 1, 1.0, (0.05, 0.01, 0.3)),
    drive(2, 2.0, 0, 0.0, (0.02, 0.02)),
]


def printed(number) -> dict[str, list[float]]:
    """Name -> values as they stand on the page."""
    rows = {}
    for part in _test(number).inputs.split(", "):
        name, values = re.fullmatch(r"(\D+?)((?: [\d.e+-]+)+)", part).groups()
        rows[name] = [float(v) for v in values.split()]
    return rows


def test_coincidence_from_the_chance_of_each_kick_out():
    """Of unequal coins the chance that so many come up, counted over all outcomes."""
    bursts = [b for t in DRIVES for b in t.select(masked=False)]
    number = link_number(bursts, "linked", "link_chance")
    rows = printed(number)
    chances, hits = rows["each chance"], int(rows["linked"][0])
    assert len(chances) == rows["bursts"][0] == 9
    law = np.array([1.0])
    for chance in chances:
        law = np.convolve(law, [1 - chance, chance])
    assert number.value == pytest.approx(law[hits:].sum(), rel=0.01)


def test_the_circuits_share_from_the_chance_of_each_event():
    """Kick-outs and masked glitches: coins of a tenth, or of the chance that one was linked if greater."""
    masked = drive(1, 1.0, 1, 1.0, (0.2,))
    masked.under_mask.total = 3
    number = share_number([masked], 0.1)
    rows = printed(number)
    assert rows["each chance"] == [0.2, 0.1, 0.1, 0.1, 0.1]
    law = np.array([1.0])
    for chance in rows["each chance"]:
        law = np.convolve(law, [1 - chance, chance])
    assert number.value == pytest.approx(law[4:].sum(), rel=0.01)
    assert (rows["linked"], rows["masked_glitches"]) == ([1.0], [3.0])


def test_the_test_within_drives_from_the_rows_of_the_drives():
    number = arms_number(DRIVES)
    rows = printed(number)
    law, seen = np.array([1.0]), 0
    for x, t_x, y, t_y in zip(*(rows[f"each {k}"] for k in ("real", "real_h", "stand_in", "stand_in_h")), strict=True):  # fmt: skip
        n = int(x + y)
        law = np.convolve(law, stats.binom.pmf(np.arange(n + 1), n, t_x / (t_x + t_y)))
        seen += int(x)
    assert number.value == pytest.approx(law[seen:].sum(), rel=2e-3)
    assert (seen, rows["real"]) == (7, [9.0])


def test_the_test_by_whole_drives_from_its_four_numbers():
    number = whole_drives_number(DRIVES)
    rows = {k: v[0] for k, v in printed(number).items()}
    n = int(rows["real"] + rows["stand_in"])
    share = rows["real_h"] / (rows["real_h"] + rows["stand_in_h"])
    assert number.value == pytest.approx(stats.binom.sf(rows["real"] - 1, n, share), rel=5e-3)


def test_where_no_drive_has_both_the_page_says_so():
    alone = arms_number([drive(2, 1.0, 0, 0.0), drive(0, 0.0, 0, 1.0)])
    assert alone.value == 1.0
    assert "nothing to compare" in _test(alone).inputs
