"""Random inputs for the tests by hypothesis: what every file of them needs."""

from __future__ import annotations

import math

from hypothesis import settings
from hypothesis import strategies as st

tried = settings(max_examples=150, deadline=None, derandomize=True)


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """As likely anywhere between both."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=False)


def spread(low: float, high: float) -> st.SearchStrategy[float]:
    """As likely in each power of ten."""
    return number(math.log(low), math.log(high)).map(math.exp)
