"""Every trial of a bisection starts from beyond the hysteresis, also the last one."""

from locum.review.threshold import Bisection


def test_the_reset_does_not_shrink_with_the_bracket():
    search = Bisection(no_c=40.0, yes_c=60.0, resolution_c=0.5)
    first = search.reset_c
    while not search.done:
        search.answer(search.next_c > 52.0)
    assert first == 36.0
    assert search.reset_c == first
    assert search.no_c <= 52.0 <= search.yes_c
