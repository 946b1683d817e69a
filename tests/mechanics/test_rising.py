"""Where a rising function of straight pieces vanishes: held against numpy's interpolation of the inverse."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.mechanics.rising import rising_root

STEPS = st.lists(st.tuples(st.floats(0.01, 1.0), st.floats(0.01, 100.0)), min_size=1, max_size=6)


@given(STEPS, st.floats(0.02, 0.98))
def test_a_function_of_straight_pieces_is_followed_to_its_root(steps: list[tuple[float, float]], share: float) -> None:
    x = np.cumsum([0.0, *(width for width, _ in steps)])
    x /= x[-1]
    y = np.cumsum([0.0, *(rise for _, rise in steps)])
    y -= share * y[-1]
    assume(y[0] < 0.0 < y[-1])
    asked: list[float] = []

    def function(at: float) -> float:
        asked.append(at)
        return float(np.interp(at, x, y))

    found = rising_root(function, float(y[0]), float(y[-1]))
    assert np.interp(found, x, y) == pytest.approx(0.0, abs=2e-9 * (y[-1] - y[0]))
    assert found == pytest.approx(float(np.interp(0.0, y, x)), abs=1e-4)  # a slope may be as small as that


def test_a_straight_line_takes_one_round() -> None:
    asked: list[float] = []
    assert rising_root(lambda at: asked.append(at) or 4.0 * at - 1.0, -1.0, 3.0) == pytest.approx(0.25)
    assert len(asked) == 1


def test_a_bend_next_to_an_end_holds_nothing_up() -> None:
    """A pressed face that is soft at first and a hundred times as stiff once all of it touches."""
    asked: list[float] = []

    def function(at: float) -> float:
        asked.append(at)
        return at * 100.0 - 4.0 if at < 0.1 else 6.0 + (at - 0.1) * 10_000.0

    assert rising_root(function, -4.0, 9_006.0) == pytest.approx(0.04)
    assert len(asked) <= 10
