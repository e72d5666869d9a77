"""Secret cases worked by the tool's own advice: few wrong, the same with any number of workers."""

from __future__ import annotations

from locum.jobs.trial import run_trial


def test_counts_add_up_and_blame_is_rare():
    result = run_trial(None, cases=48, seed=7, workers=1)
    parts = (result.right, result.undecided, result.blamed_wrongly, result.wrongly_cleared)
    assert sum(parts) == result.cases == 48
    assert result.blamed_wrongly + result.wrongly_cleared <= 2
    assert result.right >= 30
    assert set(result.hand) >= {"hours_mean", "parts_mean"}


def test_the_number_of_workers_changes_nothing():
    one, two = (run_trial(None, cases=12, seed=3, workers=n) for n in (1, 2))
    assert one.per_culprit == two.per_culprit
    assert one.drive_h_mean == two.drive_h_mean
