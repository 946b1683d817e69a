"""Which length is taken: it reaches the far surface and does not stand out, or keeps its thread in the far cortex."""

import math

from hypothesis import given
from hypothesis import strategies as st

from app.geometry.screws import stock_length
from tests.strategies import CATALOGUE

SCREWS = sorted(CATALOGUE.screws)


@given(st.sampled_from(SCREWS), st.floats(5, 130), st.floats(0, 4), st.floats(0.5, 9))
def test_the_length_taken(key: str, needed: float, beyond: float, far: float) -> None:
    """AO Surgery Reference: past the far cortex by 1 to 2 mm; our design: else the nearest that keeps a full thread."""
    spec = CATALOGUE.screws[key]
    taken = stock_length(spec, needed, beyond, far)
    reach = [made for made in spec.stock_mm if needed - 1e-9 <= made <= needed + beyond + 1e-9]
    short = [made for made in spec.stock_mm if made < needed and far - (needed - made) >= spec.pitch_mm - 1e-9]
    if reach:
        assert taken == min(reach)
    elif short:
        assert taken == max(short)
    else:
        longer = [made for made in spec.stock_mm if made >= needed]
        assert taken == (min(longer) if longer else None)


def test_nothing_is_added_before_rounding_up() -> None:
    # lengths of 2 mm steps: 14.2 mm takes 16, and 16.0 takes 16, not 18
    spec = CATALOGUE.screws["cortex-3.5"]
    assert [stock_length(spec, needed, 2.0, 2.0) for needed in (14.2, 16.0, 15.9)] == [16, 16, 16]


def test_near_vessels_the_shorter_one_is_taken() -> None:
    spec = CATALOGUE.screws["cortex-3.5"]
    assert stock_length(spec, 14.3, 1.0, 2.05) == 14  # 16 would stand out by 1.7 mm
    assert stock_length(spec, 15.3, 1.0, 2.05) == 16
    assert stock_length(spec, 14.9, 1.0, 1.0) == 16  # with so thin a wall the shorter one has no full thread
    assert math.isclose(spec.pitch_mm, 1.25)
