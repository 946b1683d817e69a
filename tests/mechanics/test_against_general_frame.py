"""Outside check: PyNiteFEA, a general 3-D frame program, given the same nodes and members.

It has no shear-flexible members, so the bone's shear deformation is switched off on our side.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from app.mechanics import Construct, FractureLine, LoadCase, Screw
from app.mechanics.agreement import RANDOM_CONSTRUCTS, RELATIVE_TOLERANCE, SMALL_GAP_CONSTRUCTS
from app.mechanics.contact import Interface, build_interface
from app.mechanics.export import as_frame
from app.mechanics.frame import Frame, build_frame
from app.mechanics.sections import Array
from app.mechanics.sideways import out_of_plane
from app.mechanics.stability import instability
from app.mechanics.states import Preloaded, loaded, open_constructs, preloaded
from tests.mechanics.constructs import bridged
from tests.mechanics.general_frame import GeneralFrame
from tests.mechanics.random_constructs import constructs

SUITE = settings(
    max_examples=RANDOM_CONSTRUCTS,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)


def prepared(construct: Construct) -> tuple[Frame, Interface, Preloaded, object]:
    frame = build_frame(construct)
    interface = build_interface(frame)
    _, chosen = open_constructs(frame, interface)
    return frame, interface, preloaded(frame, interface, chosen), chosen


def kept_nodes(frame: Frame) -> dict[str, int]:
    last, top = frame.blocks.diagonal.shape[2] - 1, frame.top
    names = {"bone 0 0": top.proximal, f"bone {len(top.left)} {last}": top.distal}
    for k in range(len(top.left)):
        names |= {f"bone {k} {last}": top.left[k], f"bone {k + 1} 0": top.right[k]}
        names |= {f"plate line {k} {n}": number for n, number in enumerate(top.plate[k])}
    return names


def assert_same(frame: Frame, general: GeneralFrame, ours: Array) -> None:
    names = kept_nodes(frame)
    mine = np.array([ours[3 * number : 3 * number + 3] for number in names.values()])
    theirs = np.array([general.displacement(name) for name in names])
    turning = [2] if general.plane == "in" else [1, 2]
    sliding = [0, 1] if general.plane == "in" else [0]
    for part in (turning, sliding):
        scale = np.abs(theirs[:, part]).max()
        assert np.abs(mine[:, part] - theirs[:, part]).max() <= RELATIVE_TOLERANCE * scale


def check_in_plane(construct: Construct) -> int:
    frame, interface, before, system = prepared(construct)
    load = construct.load
    state = loaded(interface, system, before, load.axial_n, 0.0)
    active, constant = state.interface.force != 0.0, np.zeros(len(interface.rows))
    slides = interface.sliding[state.interface.slipping != 0]
    active[slides] = False  # no spring any more: friction pushes with a given force
    constant[active] = (-interface.stiffness * interface.clearance)[active]
    constant[slides] = state.interface.force[slides]
    general = GeneralFrame(as_frame(frame, interface, active), "in", construct.supports)
    general.load(general.plain.distal, "FX", -load.axial_n)
    push = interface.rows.T @ constant
    for name, number in kept_nodes(frame).items():
        for k, direction in enumerate(("FX", "FY", "MZ")):
            if push[3 * number + k]:
                general.load(name, direction, push[3 * number + k])
    general.solve()
    assert_same(frame, general, state.displacement)
    return int(active.sum())


def check_bending(construct: Construct) -> None:
    frame, interface, _, _ = prepared(construct)
    ball, _ = open_constructs(frame, interface)
    general = GeneralFrame(
        as_frame(frame, interface, np.zeros(len(interface.rows), bool)), "in", type(construct.supports)()
    )
    general.load(general.plain.proximal, "MZ", 1000.0)
    general.load(general.plain.distal, "MZ", -1000.0)
    general.solve()
    assert_same(frame, general, ball.columns[:, 1] * 1000.0)


def check_out_of_plane(construct: Construct) -> None:
    frame, interface, before, _ = prepared(construct)
    assert not before.state.interface.pressing.any()
    _, found = out_of_plane(frame, interface, before.state)
    general = GeneralFrame(as_frame(frame, interface, np.zeros(len(interface.rows), bool)), "out", construct.supports)
    general.load(general.plain.distal, "MX", 1000.0)
    general.solve()
    assert_same(frame, general, found.displacement(1000.0, 0.0))


def check_lateral(construct: Construct) -> None:
    frame, interface, before, _ = prepared(construct)
    found, _ = out_of_plane(frame, interface, before.state)
    general = GeneralFrame(
        as_frame(frame, interface, np.zeros(len(interface.rows), bool)), "out", type(construct.supports)()
    )
    general.load(general.plain.proximal, "MY", -1000.0)
    general.load(general.plain.distal, "MY", 1000.0)
    general.solve()
    assert_same(frame, general, found.displacement(0.0, 1000.0))


@SUITE
@given(constructs(shear_flexible=False))
def test_in_plane_matches(construct: Construct) -> None:
    assume(instability(construct) is None and construct.load.axial_n != 0.0)
    check_in_plane(construct)
    check_bending(construct)


@SUITE
@given(constructs(shear_flexible=False))
def test_out_of_plane_matches(construct: Construct) -> None:
    assume(instability(construct) is None)
    check_out_of_plane(construct)
    check_lateral(construct)


@settings(SUITE, max_examples=SMALL_GAP_CONSTRUCTS)
@given(constructs(gaps=st.sampled_from((0.0, 0.02)), shear_flexible=False))
def test_small_gaps_that_may_close_match(construct: Construct) -> None:
    assume(instability(construct) is None)
    check_in_plane(replace(construct, load=LoadCase(axial_n=1500.0)))


@pytest.mark.parametrize("gap", [0.0, 0.05])
def test_closed_gap_matches(gap: float) -> None:
    base = bridged(1, 3, gap=gap, load=LoadCase(axial_n=3000.0))
    assert check_in_plane(replace(base, shear_flexible=False)) > 0


def test_screw_across_an_oblique_line_matches() -> None:
    base = bridged(1, 3, load=LoadCase(axial_n=500.0))
    across = Screw("across", 6, "locking-2", 4.4, 5.0, 1.75, 190_000.0, 690.0, 1, 0)
    line = (FractureLine(200.0, obliquity_deg=50.0, gap_mm=3.0),)
    crossed = replace(base, screws=(*base.screws, across), fracture_lines=line, shear_flexible=False)
    check_in_plane(crossed)
    check_bending(crossed)
    check_out_of_plane(crossed)
