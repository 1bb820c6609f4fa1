"""Roots of many equations at once, against scipy's of each alone."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from oilkit.physics.roots import root_between


@pytest.mark.parametrize("power", [0.5, 1.0, 3.0, 9.0])
def test_many_roots_are_those_of_scipy_one_by_one(power: float) -> None:
    """Source: scipy's Brent. A root, a straight line, and powers that are flat at one end."""
    goals = np.geomspace(1e-6, 0.99, 40)
    found = root_between(lambda x: x**power - goals, np.zeros(40), np.ones(40))
    alone = [brentq(lambda x, goal=goal: x**power - goal, 0.0, 1.0, xtol=1e-300, rtol=9e-16) for goal in goals]
    np.testing.assert_allclose(found, alone, rtol=4e-15)


def test_a_bend_and_a_jump_are_found() -> None:
    bend = root_between(lambda x: np.minimum(x - 0.3, 40.0 * (x - 0.3)) + 1e-3, 0.0, 1.0)
    assert float(bend) == pytest.approx(0.3 - 1e-3 / 40.0, rel=1e-14)
    assert float(root_between(lambda x: np.where(x < 1.0 / 3.0, -1.0, 2.0), 0.0, 1.0)) == pytest.approx(1.0 / 3.0)


def test_an_end_can_be_the_root_and_equal_signs_have_none() -> None:
    goals = np.array([0.0, 1.0, 2.0, 0.25])
    found = root_between(lambda x: x - goals, np.zeros(4), np.ones(4))
    assert found[:2].tolist() == [0.0, 1.0]
    assert math.isnan(found[2])
    assert found[3] == 0.25
    assert float(root_between(lambda x: x, 0.0, 1.0, least=1e-3)) == 0.0


def test_as_near_as_was_asked_for() -> None:
    calls = []

    def counted(x: float) -> float:
        calls.append(x)
        return math.exp(float(x)) - 2.0

    assert float(root_between(counted, 0.0, 1.0, least=1e-3)) == pytest.approx(math.log(2.0), abs=2e-3)
    few = len(calls)
    assert float(root_between(counted, 0.0, 1.0)) == pytest.approx(math.log(2.0), rel=1e-15)
    assert few < len(calls) - few < 20
