"""Student's t: how far a figure lies off that was fitted to a few measurements.

The distribution by the regularised incomplete beta function, as a continued fraction (Abramowitz and Stegun
1964, 26.5.8 and 26.7.1); its quantile by bisection.
"""

from __future__ import annotations

import math
from functools import cache

_ROUNDS = 300
_TINY = 1e-300


def student_share(t: float, freedom: int) -> float:
    """Return the share of a t distribution with these degrees of freedom that lies below ``t``.

    Raises
    ------
    ValueError
        There is no degree of freedom.
    """
    if freedom < 1:
        raise ValueError(f"a spread takes at least one degree of freedom, not {freedom}")
    tail = _beta(freedom / (freedom + t * t), freedom / 2, 0.5) / 2
    return 1 - tail if t > 0 else tail


@cache
def student_bound(chance: float, freedom: int) -> float:
    """Return what a t variable exceeds with this chance, above 0 and below 1.

    Raises
    ------
    ValueError
        The chance is none, or there is no degree of freedom.
    """
    if not 0 < chance < 1:
        raise ValueError(f"a chance lies between 0 and 1, not at {chance}")
    if chance > 0.5:
        return -student_bound(1 - chance, freedom)
    low, high = 0.0, 1.0
    while student_share(-high, freedom) > chance and high < 1e12:
        low, high = high, 2 * high
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if student_share(-middle, freedom) > chance else (low, middle)
    return high


def _beta(x: float, a: float, b: float) -> float:
    """Return the regularised incomplete beta function."""
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - _beta(1 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    c, d = 1.0, 1 / _apart(1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, _ROUNDS):
        for step in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / _apart(1 + step * d)
            c = _apart(1 + step / c)
            value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return front * value / a


def _apart(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
