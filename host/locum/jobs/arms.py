"""The arms of a case: kick-outs and exposed hours by what fed the module, before and after repair."""

from __future__ import annotations

from locum.verdict.evidence import Drive, Evidence

ARMS = (("real sensor, before repair", "real", False), ("following, glitches left out", "follow", False),
        ("real sensor, after repair", "real", True))  # fmt: skip


def arm_counts(evidence: Evidence) -> list[tuple[str, int, float]]:
    """(label, kick-outs, exposed hours) of each arm that was driven."""
    rows = []
    for label, connected, repaired in ARMS:
        events, seconds = 0, 0.0
        for drive in evidence.drives:
            if drive.repaired is not repaired or drive.kind == "provoke":
                continue
            for stretch in drive.stretches:
                if stretch.connected == connected:
                    n, s = _counted(drive, stretch.start_s, stretch.end_s)
                    events, seconds = events + n, seconds + s
        if seconds > 0:
            rows.append((label, events, seconds / 3600))
    return rows


def _counted(drive: Drive, start_s: float, end_s: float) -> tuple[int, float]:
    """Kick-outs and exposed seconds of a drive between two times."""
    spans = [(max(a, start_s), min(b, end_s)) for a, b in drive.exposed]
    spans = [(a, b) for a, b in spans if b > a]
    times = drive.release_t_s if drive.release_t_s is not None else []
    causes = drive.release_cause or ()
    hits = sum(
        cause == "none" and any(a <= t < b for a, b in spans)
        for t, cause in zip(times, causes, strict=False)
    )
    return hits, sum(b - a for a, b in spans)
