"""A bridged segmental fracture: the middle piece can be set until it is held (common practice, no source)."""

import pytest

from app.case.models import Construct, LagScrew
from app.order import Step, derive_order, plan
from app.order.corrections import Correctable
from tests.order.constructs import laid
from tests.order.test_derived_is_best import CLASSICAL, line, plated

A_LITTLE = Correctable("a little", "a little", "a little")


@pytest.fixture(scope="module")
def bridged() -> Construct:
    return dict(CLASSICAL)["segmental, bridged"]


def inserted(construct: Construct, order: tuple[str, ...] | None = None) -> dict[str, Step]:
    return {str(step.screw): step for step in plan(laid(construct), order) if step.kind == "insert"}


def test_its_first_screw_is_said_to_hold_the_middle_piece(bridged: Construct) -> None:
    steps = inserted(bridged)
    assert list(steps)[:5] == ["h1", "h12", "h3", "h10", "h5"]
    assert "other end" in steps["h12"].why
    assert "intermediate fragment" in steps["h5"].why
    assert [name for name, step in steps.items() if "other end" in step.why] == ["h12"]


def test_a_plate_held_to_the_middle_piece_first_is_not_held_at_an_end(bridged: Construct) -> None:
    order = ("h5", *(name for name in derive_order(laid(bridged)) if name != "h5"))
    steps = inserted(bridged, order)
    assert "one end" not in steps["h5"].why
    assert "intermediate fragment" in steps["h5"].why


def test_between_held_ends_the_middle_piece_can_still_be_set_a_little(bridged: Construct) -> None:
    # length and rotation of the whole are settled by the two ends: what one line gains, the other loses
    steps = inserted(bridged)
    free = Correctable("yes", "yes", "yes")
    assert steps["h1"].lines == (free, free)
    for name in ("h12", "h3", "h10"):
        assert steps[name].lines == (A_LITTLE, A_LITTLE)
    assert steps["h5"].lines == (Correctable("no", "no", "no"),) * 2
    assert plan(laid(bridged))[-1].correctable.length == "no"


def test_a_middle_piece_lagged_to_an_end_goes_with_it() -> None:
    lines = (line("tibia", 45, off_mm=-40), line("tibia", off_mm=40))
    lag = LagScrew(position_mm=lines[0].position_mm - 1, tilt_deg=-30)
    construct = plated("tibia", "large-narrow-4.5", "2.2......2.2", lines, "bridging", lags=(lag,))
    steps = inserted(construct)
    assert next(iter(steps)) == "s1"
    assert steps["h12"].lines == (Correctable("no", "no", "no"), Correctable("no", "no", "a little"))


def test_a_middle_piece_that_nothing_holds_stays_as_it_is(bridged: Construct) -> None:
    lines = bridged.fracture.lines
    without = plated("tibia", "large-narrow-4.5", "2.2......2.2", lines, "bridging")
    assert plan(laid(without))[-1].lines == (A_LITTLE, A_LITTLE)
