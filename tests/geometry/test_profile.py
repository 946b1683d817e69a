"""Outlines along the shaft."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from app.geometry.profile import monotone_cubic


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.floats(0.5, 40), st.floats(1, 50)), min_size=3, max_size=13))
def test_agrees_with_a_general_numeric_library(steps: list[tuple[float, float]]) -> None:
    """scipy.interpolate.PchipInterpolator is the reference."""
    xs = tuple(np.cumsum([step for step, _ in steps]).tolist())
    ys = tuple(y for _, y in steps)
    ours = monotone_cubic(xs, ys)
    reference = PchipInterpolator(xs, ys)
    for x in np.linspace(xs[0], xs[-1], 41):
        assert ours(float(x)) == pytest.approx(float(reference(x)), rel=1e-9, abs=1e-9)


def test_ends_are_held_beyond_the_table() -> None:
    curve = monotone_cubic((0.0, 1.0, 2.0), (3.0, 4.0, 2.0))
    assert (curve(-5), curve(9)) == (3.0, 2.0)
