"""Tail probabilities of the Poisson and binomial laws, and their inverses, in plain Python.

Sums of exact terms where they are short, continued fractions where they are long; no library is
loaded, so that a single number on the command line comes at once. Checked against scipy and
against printed tables in the tests.

Sources: the series and continued fraction of the incomplete gamma function and the continued
fraction of the incomplete beta function (modified Lentz) as in Abramowitz and Stegun, Handbook of
Mathematical Functions, 6.5.29, 6.5.31 and 26.5.8.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

_TINY = 1e-300
_EPS = 1e-15


def gamma_p(a: float, x: float) -> float:
    """Regularised lower incomplete gamma function P(a, x), a > 0, x >= 0."""
    if x <= 0:
        return 0.0
    return _gamma_series(a, x) if x < a + 1 else 1.0 - _gamma_fraction(a, x)


def gamma_q(a: float, x: float) -> float:
    """Upper part Q(a, x) = 1 - P(a, x), without loss where it is small."""
    if x <= 0:
        return 1.0
    return 1.0 - _gamma_series(a, x) if x < a + 1 else _gamma_fraction(a, x)


def _gamma_series(a: float, x: float) -> float:
    term = total = 1.0 / a
    n = a
    while abs(term) > abs(total) * _EPS:
        n += 1
        term *= x / n
        total += term
    return total * math.exp(-x + a * math.log(x) - math.lgamma(a))


def _gamma_fraction(a: float, x: float) -> float:
    b = x + 1 - a
    c = 1 / _TINY
    d = 1 / b
    h = d
    for i in range(1, 100_000):
        an = -i * (i - a)
        b += 2
        d = an * d + b
        d = 1 / (d if abs(d) > _TINY else _TINY)
        c = b + an / c
        c = c if abs(c) > _TINY else _TINY
        h *= d * c
        if abs(d * c - 1) < _EPS:
            break
    return math.exp(-x + a * math.log(x) - math.lgamma(a)) * h


def poisson_at_most(k: int, mean: float) -> float:
    """P(X <= k) of a Poisson count; 0 for negative k."""
    return 0.0 if k < 0 else gamma_q(k + 1, mean)


def poisson_at_least(k: int, mean: float) -> float:
    """P(X >= k) of a Poisson count; 1 for k <= 0."""
    return 1.0 if k <= 0 else gamma_p(k, mean)


def beta_i(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b), a, b > 0, 0 <= x <= 1."""
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    if x < (a + 1) / (a + b + 2):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, 1 - x) / b


def _beta_fraction(a: float, b: float, x: float) -> float:
    c = 1.0
    d = 1 - (a + b) * x / (a + 1)
    d = 1 / (d if abs(d) > _TINY else _TINY)
    h = d
    for m in range(1, 10_000):
        for numerator in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 + numerator * d
            d = 1 / (d if abs(d) > _TINY else _TINY)
            c = 1 + numerator / c
            c = c if abs(c) > _TINY else _TINY
            h *= d * c
        if abs(d * c - 1) < _EPS:
            break
    return h


def binomial_at_least(k: int, n: int, p: float) -> float:
    """P(X >= k) of n trials with chance p."""
    if k <= 0:
        return 1.0
    if k > n:
        return 0.0
    return beta_i(k, n - k + 1, p)


def binomial_at_most(k: int, n: int, p: float) -> float:
    """P(X <= k) of n trials with chance p."""
    if k < 0:
        return 0.0
    if k >= n:
        return 1.0
    return beta_i(n - k, k + 1, 1 - p)


def negative_binomial_at_least(k: int, shape: float, p: float) -> float:
    """P(X >= k) of a Poisson count whose mean is gamma with this shape; p = t / (t + t0).

    The predictive law of events in a time t, after ``shape`` (not whole) events in t0.
    """
    return 1.0 if k <= 0 else beta_i(k, shape, p)


def binomial_pmf(k: int, n: int, p: float) -> float:
    """P(X = k) of n trials with chance p."""
    if not 0 <= k <= n:
        return 0.0
    if p <= 0.0:
        return 1.0 if k == 0 else 0.0
    if p >= 1.0:
        return 1.0 if k == n else 0.0
    log = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    return math.exp(log + k * math.log(p) + (n - k) * math.log1p(-p))


def root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a monotone rising function crosses zero between low and high (bisection, secant)."""
    f_low, f_high = rising(low), rising(high)
    for _ in range(200):
        middle = 0.5 * (low + high)
        if f_high != f_low:
            guess = low - f_low * (high - low) / (f_high - f_low)
            span = high - low
            if low + 0.01 * span < guess < high - 0.01 * span:
                middle = guess
        value = rising(middle)
        if value < 0:
            low, f_low = middle, value
            f_high *= 0.5
        else:
            high, f_high = middle, value
            f_low *= 0.5
        if high - low <= 1e-13 * max(abs(high), 1e-300) or value == 0:
            break
    return 0.5 * (low + high)


@lru_cache(maxsize=4096)
def poisson_mean_low(k: int, tail: float) -> float:
    """Mean at which P(X >= k) equals ``tail``; 0 for k = 0."""
    if k == 0:
        return 0.0
    return root(lambda mean: poisson_at_least(k, mean) - tail, 0.0, float(k))


@lru_cache(maxsize=4096)
def poisson_mean_high(k: int, tail: float) -> float:
    """Mean at which P(X <= k) equals ``tail``."""
    top = k + 10.0
    while poisson_at_most(k, top) > tail:
        top *= 2
    low = 0.0 if poisson_at_most(k, float(k)) < tail else float(k)  # of many spells it lies below k
    return root(lambda mean: tail - poisson_at_most(k, mean), low, top)


@lru_cache(maxsize=4096)
def binomial_low(k: int, n: int, tail: float) -> float:
    """Chance at which P(X >= k) equals ``tail``; 0 for k = 0."""
    if k == 0:
        return 0.0
    return root(lambda p: binomial_at_least(k, n, p) - tail, 0.0, 1.0)


@lru_cache(maxsize=4096)
def binomial_high(k: int, n: int, tail: float) -> float:
    """Chance at which P(X <= k) equals ``tail``; 1 for k = n."""
    if k == n:
        return 1.0
    return root(lambda p: tail - binomial_at_most(k, n, p), 0.0, 1.0)
