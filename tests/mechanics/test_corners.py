"""Contact where plain searching runs in circles: a fragment that hangs on one screw and a lag, closed lines, friction.

Checked by the conditions themselves (unilateral contact and Coulomb friction; theory of contact), written here once
more from what `app.mechanics.touching` answers: that a state is found by another way must not make it a worse one.
"""

import numpy as np
import pytest

from app.mechanics import Construct, FractureLine, LagScrew, LoadCase, Supports, analyse
from app.mechanics.contact import build_interface
from app.mechanics.frame import build_frame
from app.mechanics.model import BoneProfile, Friction, Plate, Screw, ScrewKind
from app.mechanics.states import first_time, loaded, open_constructs, preloaded


def screws(*kinds: tuple[int, ScrewKind, int], shifted: int | None = None) -> tuple[Screw, ...]:
    return tuple(
        Screw(
            f"{hole}", hole, kind, 3.0 if kind == "clamped" else 3.8, 4.5, 1.75, 190e3, 690.0, at, at, 1000.0,
            -1.0 if hole == shifted else 0.0, 500.0,
        )
        for hole, kind, at in kinds
    )  # fmt: skip


def plate(width: float, thickness: float, first: float, pitch: float, standoff: float) -> Plate:
    holes = tuple(first + pitch * n for n in range(10))
    return Plate(width, thickness, 4.5, 8.0, holes, standoff, 110e3, 110e3 / 2.6, 690.0, 380.0, 860.0)


def lag(at: float, force: float) -> tuple[LagScrew, ...]:
    return (LagScrew("lag", at - 6.0, at + 6.0, 0, 1, 2.4, 3.5, 1.25, 190e3, force),)


ONE_LINE = Construct(
    BoneProfile(
        (0.0, 119.0, 178.5, 357.0), (26.4, 21.0, 23.4, 29.4), (18.0, 25.2, 25.2, 19.8), (6.5, 5.25, 2.25, 2.0),
        11_500.0, 11_500.0 / 2.6, 51.6,
    ),
    plate(13.2, 2.65, 129.828, 16.4, 2.25),
    screws((1, "clamped", 0), (2, "locking-2", 0), (4, "locking-1", 0), (5, "locking-1", 0), (8, "locking-1", 1)),
    (FractureLine(203.628),),
    Friction(0.35, 0.4),
    LoadCase(30.0, 6400.0, 750.0, 3000.0),
    Supports("ball", "held"),
    lag(203.628, 900.0),
    prebend_mm=1.0,
)  # fmt: skip
TWO_LINES = Construct(
    BoneProfile(
        (0.0, 230.0 / 3.0, 115.0, 230.0), (21.6, 21.0, 28.8, 23.4), (18.6, 18.0, 30.0, 20.4), (2.25, 3.0, 4.0, 5.5),
        18_300.0, 18_300.0 / 2.6, 51.6,
    ),
    plate(11.8, 4.3, 46.624, 17.2, 2.75),
    screws((2, "locking-2", 0), (4, "clamped", 1), (9, "locking-2", 2), (10, "clamped", 2), shifted=10),
    (FractureLine(83.432, 0.0, 0.0, 0.02), FractureLine(139.16, 20.0, 0.0, 0.02)),
    Friction(0.35, 0.4),
    LoadCase(195.0, -800.0, 4250.0, 0.0),
    Supports("held", "ball"),
    lag(83.432, 450.0),
    prebend_mm=1.0,
)  # fmt: skip


@pytest.mark.parametrize("construct", [ONE_LINE, TWO_LINES], ids=["one line", "two lines"])
def test_a_state_is_found_and_it_is_one(construct: Construct) -> None:
    assert analyse(construct).unstable is None
    frame = build_frame(construct)
    interface = build_interface(frame)
    _, system = open_constructs(frame, interface)
    before = preloaded(frame, interface, system)
    after = loaded(interface, system, before, construct.load.axial_n, construct.load.bending_nmm)
    pressed = 0
    nothing = np.zeros_like(before.offset)
    for state, offset in ((before.state, nothing), (after, before.offset)):
        force = state.interface.force
        distance = interface.rows @ state.displacement + interface.clearance + offset
        scale = float(np.abs(force).max())
        for opening, sliding in zip(interface.opening, interface.sliding, strict=True):
            spring = -interface.stiffness[opening] * distance[opening]
            assert force[opening].min() >= -1e-9 * scale
            assert force[opening] == pytest.approx(np.maximum(spring, 0.0), abs=1e-6 * scale)
            bears = interface.friction * float(force[opening].sum())
            assert abs(force[sliding]) <= bears + 1e-6 * scale
            along = -interface.stiffness[sliding] * distance[sliding]
            sticks = along == pytest.approx(float(force[sliding]), abs=1e-6 * scale)
            # a line that slides moves against its shear force, beyond what its spring gives
            slides = abs(force[sliding]) == pytest.approx(bears, abs=1e-6 * scale) and along * force[sliding] > 0
            assert sticks or slides or bears == 0.0
            pressed += int((force[opening] > 0.0).sum())
    assert pressed


@pytest.mark.parametrize("at", [0.003, 0.7, 1.0, 123.4, 9e5])
def test_the_first_time_is_found_to_nine_digits(at: float) -> None:
    assert first_time(lambda factor: factor >= at) == pytest.approx(at, rel=2e-9)


def test_what_never_comes_has_no_first_time() -> None:
    assert first_time(lambda _: False) is None
