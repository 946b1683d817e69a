"""The frame beside solid finite elements of seven bridged constructs (`app/mechanics/validation/solids.py` says which).

The bands are what was asked for before the model was built this way. A miss stays here as a miss, with its cause; it
fails the tests once it is mended, so that it is taken out.
"""

import pytest
from _pytest.mark.structures import ParameterSet

from app.mechanics.validation.solids import CAUSES, QUANTITIES, Quantity, Solid, run_solids, solids

ASKED = {
    "axial stiffness": (0.88, 1.15),
    "bending stiffness": (0.88, 1.15),
    "torsional stiffness": (0.80, 1.10),
    "motion of the far cortex": (0.85, 1.2),
    "plate stress at mid-gap": (0.9, 1.1),
    "pull of the screws next to the gap": (0.9, 1.15),
    "bending of the screws next to the gap": (1.0, 1.3),
}


def every() -> list[ParameterSet]:
    """All figures of all constructs, the known misses marked."""
    cases = []
    for quantity in QUANTITIES:
        for solid in solids():
            cause = CAUSES.get((quantity.name, solid.letter))
            marks = [pytest.mark.xfail(strict=True, raises=AssertionError, reason=cause)] if cause else []
            cases.append(pytest.param(quantity, solid, id=f"{quantity.name}-{solid.letter}", marks=marks))
    return cases


def test_all_seven_are_there() -> None:
    assert [solid.letter for solid in solids()] == ["A", "B", "E", "G", "H", "I", "J"]


def test_what_is_asked_for_stays() -> None:
    assert {one.name: (one.low, one.high) for one in QUANTITIES} == ASKED


@pytest.mark.parametrize(("quantity", "solid"), every())
def test_the_frame_comes_near_the_solids(quantity: Quantity, solid: Solid) -> None:
    low, high = ASKED[quantity.name]
    ratios = quantity.ratios(solid)
    assert ratios
    for ratio in ratios:
        assert low <= ratio <= high


def test_the_rows_tell_every_miss_with_its_cause() -> None:
    rows = run_solids()
    assert len(rows) == len(QUANTITIES) * len(solids())
    assert {(row.quantity.name, row.solid.letter): row.cause for row in rows if row.verdict == "outside"} == CAUSES
    assert all(row.cause is None for row in rows if row.verdict == "inside")
