"""Random inputs for the tests by hypothesis: what every file of them needs."""

from __future__ import annotations

import math
import os

from hypothesis import settings
from hypothesis import strategies as st

SHARE = float(os.environ.get("OILKIT_EXAMPLES", "0.3"))
"""Of the examples that each test asks for. The thorough part tries all of them (`test_all_examples`); CI asks for
all in its first run."""


def examples(count: int) -> settings:
    """So many examples, or the share of them, the same ones every time."""
    return settings(max_examples=max(10, round(SHARE * count)), deadline=None, derandomize=True)


tried = examples(150)


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """As likely anywhere between both."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=False)


def spread(low: float, high: float) -> st.SearchStrategy[float]:
    """As likely in each power of ten."""
    return number(math.log(low), math.log(high)).map(math.exp)
