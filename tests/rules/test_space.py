"""Distances between screws in space, and what rules ask of a lag screw that is turned about the shaft."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import minimize

from app.assess import assess
from app.rules.screw_distance import _in_space, screw_distance_mm
from tests.rules.judging import KNOWLEDGE
from tests.rules.scenes import on_a_hollow_flare

COORDINATE = st.floats(-50, 50).map(lambda x: round(x, 1))
POINT = st.tuples(COORDINATE, COORDINATE, COORDINATE)


def sampled(one: list[tuple[float, float, float]], other: list[tuple[float, float, float]]) -> float:
    """By a general-purpose minimiser (scipy, L-BFGS-B with bounds) from several starts."""
    a, b = np.array(one), np.array(other)

    def squared(shares: np.ndarray) -> float:
        s, t = shares
        way = a[0] + s * (a[1] - a[0]) - b[0] - t * (b[1] - b[0])
        return float(way @ way)

    starts = [(s, t) for s in (0.1, 0.9) for t in (0.1, 0.9)]
    found = [minimize(squared, start, bounds=[(0, 1), (0, 1)]).fun for start in starts]
    return math.sqrt(max(0.0, min(found)))


@given(st.lists(POINT, min_size=4, max_size=4))
def test_the_least_distance_of_two_paths_in_space(points: list[tuple[float, float, float]]) -> None:
    one, other = points[:2], points[2:]
    assume(math.dist(*one) >= 1 and math.dist(*other) >= 1)
    assert _in_space(one, other) == pytest.approx(sampled(one, other), abs=2e-3, rel=1e-3)


def test_neighbours_square_to_a_plate_on_a_flare_are_as_far_apart_as_their_axes_run() -> None:
    """Two straight lines in a plane, by numpy: they meet where ``a + s·u = b + t·v``; their holes stand 12 mm apart."""
    (construct,) = assess(on_a_hollow_flare(), KNOWLEDGE).constructs
    one, other = construct.layout.screw("h1"), construct.layout.screw("h2")
    ends = [np.array((screw.passages[0].entry, screw.passages[-1].exit)) for screw in (one, other)]
    (a, u), (b, v) = ((path[0], path[1] - path[0]) for path in ends)
    shares = np.linalg.solve(np.column_stack((u, -v)), b - a)
    assert abs(other.s_mm - one.s_mm) == 12
    assert (shares > 0).all()
    assert (shares < 1).all()
    assert screw_distance_mm(one, other) == 0
