"""Which kick-outs of a drive rates and tests count, as the page says it of each."""

from __future__ import annotations

from locum.jobs.drive_facts import _say_which_count
from locum.report.data import ReleaseFacts


def test_outside_and_in_one_burst_are_told_apart():
    """A minute is the longest gap within a burst; what the driver did is not asked about."""
    rows = [
        (50, "none"),
        (100, "none"),
        (140, "none"),
        (150, "driver"),
        (199, "none"),
        (260, "none"),
    ]
    releases = [ReleaseFacts(float(t), "let go", cause) for t, cause in rows]
    _say_which_count(releases, [(90_000, 400_000)])
    said = [r.counted.split(" ")[0] for r in releases]
    assert said == ["outside", "counts", "within", "", "within", "counts"]
