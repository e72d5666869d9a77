"""At the edges of what is met on cars a glitch of 5 K is found, and nothing else is.

Where five kelvin are fewer than five counts of the converter nothing is promised: such records are
not drawn. 10 kohm against a hot 2.5 kohm sensor is the last that is.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from locum.review import Context, LineSpec, joined, review, start, step
from locum.review.stream import finish

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "benchmarks"))
from glitch_truth import COUNTS, FULL_V, Setting, record

LEAST_COUNTS = 5.0


def counts_of_glitch(setting: Setting) -> float:
    """What 5 K are on the converter, at the end of the range where they are least."""
    ends = [setting.celsius + 3, setting.celsius - 3 - setting.depth_k]
    volts = [
        abs(
            float(setting.node_v(setting.ohm(c))) - float(setting.node_v(setting.ohm(c + setting.depth_k)))
        )
        for c in ends
    ]  # fmt: skip
    return min(volts) / FULL_V * COUNTS


def context_of(setting: Setting, made) -> Context:
    return Context(
        lines=(LineSpec(3, "ignition feed", role="ignition"),), pull_up_ohm=setting.pull_up_ohm,
        second_pull_up_ohm=setting.second_pull_up_ohm, curve_points=made.curve,
    )  # fmt: skip


extremes = st.builds(
    Setting,
    name=st.just("drawn"),
    pull_up_ohm=st.sampled_from((1000.0, 2200.0, 4700.0, 10_000.0)),
    r20_ohm=st.sampled_from((2500.0, 8000.0)),
    beta_k=st.sampled_from((3200.0, 3500.0, 4000.0)),
    celsius=st.floats(-20.0, 110.0),
    depth_k=st.sampled_from((5.0, 12.0, 60.0)),
    masked=st.booleans(),
    noise_v=st.floats(0.0005, 0.0015),
    hum_v=st.just(0.0),
)


@settings(max_examples=25, deadline=None)
@given(setting=extremes, seed=st.integers(0, 10_000))
def test_glitches_are_found_at_the_edges_and_nothing_else(setting, seed):
    counts = counts_of_glitch(setting)
    assume(setting.masked or counts >= LEAST_COUNTS)
    setting = replace(setting, quiet_counts=int(min(max(0.65 * counts, 4), 16)))
    made = record(setting, 2.5, seed)
    found = review(context_of(setting, made), [made.chunk]).glitches
    assert len(found) == len(made.start_ms)
    for glitch, begin, length, cold in zip(
        found, made.start_ms, made.length_ms, made.cold, strict=True
    ):
        assert begin - 15 <= glitch.t_ms <= begin + length
        assert glitch.towards == ("cold" if cold else "hot")
        assert glitch.place == ("sensor" if setting.masked else "circuit")


@settings(max_examples=10, deadline=None)
@given(
    seed=st.integers(0, 100),
    cuts=st.lists(st.integers(1, 119_999), max_size=30),
    hum_v=st.sampled_from((0.0, 0.02)),
    masked=st.booleans(),
)
def test_any_cut_of_a_record_with_hum_and_glitches_gives_the_same(seed, cuts, hum_v, masked):
    setting = Setting("cut", hum_v=hum_v, masked=masked)
    made = record(setting, 2.0, seed)
    context = context_of(setting, made)
    whole = review(context, [made.chunk])
    state, parts, rest = start(context), [], made.chunk
    for at_ms in sorted(set(cuts)):
        head, rest = rest.split(at_ms)
        parts.append(step(state, head)[1])
    parts.append(step(state, rest)[1])
    again = joined([*parts, finish(state)])
    assert again.as_dict() == whole.as_dict()
    assert len(whole.glitches) > 5


def test_two_stages_cranking_hum_and_own_moves_are_no_glitches():
    for number, changes in enumerate(
        (
            {"warm_up": True, "pull_up_ohm": 10_000.0, "second_pull_up_ohm": 909.0},
            {"cranking": True},
            {"hum_v": 0.05},
            {"own_moves": True},
            {"noise_v": 0.008},
        )
    ):
        setting = replace(Setting("quiet", glitches=False), **changes)
        made = record(setting, 6.0, number)
        assert review(context_of(setting, made), [made.chunk]).glitches == [], changes


def test_a_glitch_beyond_noise_is_found_though_the_quiet_rows_swing(made):
    """A mean of ten readings tells what a single one cannot: 5 K of 10 counts in noise of 1 count."""
    setting = Setting("noisy", pull_up_ohm=10_000.0, quiet_counts=6, noise_v=0.0018)
    drawn = record(setting, 5.0, 4)
    found = review(context_of(setting, drawn), [drawn.chunk]).glitches
    assert len(found) == len(drawn.start_ms)
    assert np.all([g.length_ms >= 5 for g in found])
