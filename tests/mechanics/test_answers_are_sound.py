"""No answer is NaN, infinite or silent, whatever the construct; and condensed fragments can be exchanged freely."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from app.mechanics import Construct, LoadCase, analyse
from app.mechanics.chain import FragmentBlocks, condense_fragment, recover_stations
from app.mechanics.contact import build_interface
from app.mechanics.frame import build_frame, join_fragments
from app.mechanics.sections import Array
from app.mechanics.stability import instability
from app.mechanics.states import loaded, open_constructs, preloaded
from tests.mechanics.constructs import bridged
from tests.mechanics.random_constructs import constructs

MANY = settings(
    max_examples=80,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)
GAPS = st.sampled_from((0.0, 0.0, 0.05, 0.5, 5.0))


def numbers(value: object) -> list[float]:
    if isinstance(value, float):
        return [value]
    if isinstance(value, tuple):
        return [x for part in value for x in numbers(part)]
    if is_dataclass(value):
        return [x for field in fields(value) for x in numbers(getattr(value, field.name))]
    return []


@MANY
@given(constructs(gaps=GAPS, preload=True))
def test_every_answer_is_a_number_or_says_why_not(construct: Construct) -> None:
    result = analyse(construct)
    assert all(math.isfinite(x) for x in numbers(result))
    if result.unstable is not None:
        assert result.unstable.startswith(("unstable: ", "not computed: "))
        assert result.lines == ()
        return
    stiffness = (
        result.axial_stiffness_n_per_mm,
        result.bending_stiffness_plate_tension_nm_per_deg,
        result.bending_stiffness_plate_compression_nm_per_deg,
        result.lateral_stiffness_nm_per_deg,
        result.torsional_stiffness_nm_per_deg,
    )
    assert all(x is not None and x > 0.0 for x in stiffness), stiffness
    assert {s.id for s in result.screws} >= {s.id for s in construct.screws}
    for line in result.lines:
        assert (line.strain.reason is None) == (
            line.strain.near_percent is not None and line.strain.far_percent is not None
        )


@MANY
@given(constructs(gaps=GAPS, preload=True))
def test_faces_press_or_stand_apart(construct: Construct) -> None:
    """The unilateral conditions themselves: no pull across a face, no overlap beyond the spring, never both."""
    assume(instability(construct) is None)
    frame = build_frame(construct)
    interface = build_interface(frame)
    _, system = open_constructs(frame, interface)
    before = preloaded(frame, interface, system)
    load = construct.load
    for state in (before.state, loaded(interface, system, before, load.axial_n, load.bending_nmm)):
        apart = interface.rows @ state.displacement + interface.clearance
        for row in interface.opening.ravel():
            force = state.interface.force[row]
            assert force >= 0.0
            if state.interface.pressing[row]:
                assert force == pytest.approx(-interface.stiffness[row] * apart[row], rel=1e-5, abs=1e-3)
            else:
                assert force == 0.0
                assert apart[row] >= -1e-9


@MANY
@given(constructs(gaps=GAPS, preload=True))
def test_no_load_leaves_the_preloaded_state(construct: Construct) -> None:
    assume(instability(construct) is None)
    result = analyse(replace(construct, load=LoadCase()))
    for line in result.lines:
        assert abs(line.motion.near_mm) < 1e-7
        assert abs(line.motion.far_mm) < 1e-7


def dense(blocks: FragmentBlocks) -> tuple[Array, Array]:
    """A fragment's whole matrix, station by station, without any elimination."""
    count = blocks.diagonal.shape[0]
    full, load = np.zeros((6 * count, 6 * count)), blocks.load.reshape(6 * count, -1)
    for k in range(count):
        here = slice(6 * k, 6 * k + 6)
        full[here, here] += blocks.diagonal[k]
        if 1 <= k < count - 1:
            after = slice(6 * k + 6, 6 * k + 12)
            full[here, after] += blocks.to_next[k]
            full[after, here] += blocks.to_next[k].T
        if k >= 1:
            full[here, :6] += blocks.to_start[k]
            full[:6, here] += blocks.to_start[k].T
    return full, load


def part(blocks: FragmentBlocks, plane: int, fragment: int) -> FragmentBlocks:
    return FragmentBlocks(*(getattr(blocks, f.name)[plane, fragment] for f in fields(blocks)))


@pytest.mark.parametrize("plane", [0, 1])
def test_condensed_fragment_is_the_whole_fragment(plane: int) -> None:
    """Schur complement and recovery against numpy's dense solve of the same fragment."""
    frame = build_frame(bridged(0, 3))
    for fragment in (0, 1):
        blocks = part(frame.blocks, plane, fragment)
        full, _ = dense(blocks)
        ends = np.r_[0:6, len(full) - 6 : len(full)]
        inner = np.arange(6, len(full) - 6)
        solved = np.linalg.solve(full[np.ix_(inner, inner)], full[np.ix_(inner, ends)])
        condensed = condense_fragment(blocks)
        expected = full[np.ix_(ends, ends)] - full[np.ix_(ends, inner)] @ solved
        assert np.abs(condensed.stiffness - expected).max() <= 1e-9 * np.abs(expected).max()
        moved = np.random.default_rng(1).normal(size=(12, 1))
        recovered = recover_stations(condensed, moved, np.zeros((2, 1))).reshape(-1, 1)
        assert np.allclose(recovered, -solved @ moved, rtol=1e-8, atol=1e-8)


def test_halves_recombine_to_every_layout() -> None:
    """2^a + 2^b condensations give all 2^(a+b) layouts: each equals the construct solved as a whole."""
    base = bridged(0, 3, holes=8)

    def layouts(side: int) -> list[tuple[int, ...]]:
        holes = (1, 2, 3, 4) if side == 0 else (5, 6, 7, 8)
        return [tuple(h for h in holes if h != left_out) for left_out in holes] + [holes]

    def built(first: tuple[int, ...], second: tuple[int, ...]) -> Construct:
        full = bridged(0, 4, holes=8)
        return replace(base, screws=tuple(s for s in full.screws if s.hole_number in first + second))

    halves = [
        [build_frame(built(one, layouts(1)[-1])).condensed for one in layouts(0)],
        [build_frame(built(layouts(0)[-1], one)).condensed for one in layouts(1)],
    ]
    for a, first in enumerate(layouts(0)):
        for b, second in enumerate(layouts(1)):
            whole = build_frame(built(first, second))
            mixed = replace(
                whole.condensed,
                stiffness=np.stack([halves[0][a].stiffness[:, 0], halves[1][b].stiffness[:, 1]], axis=1),
                load=np.stack([halves[0][a].load[:, 0], halves[1][b].load[:, 1]], axis=1),
            )
            joined, _ = join_fragments(mixed, whole.top, whole.ends)
            assert np.allclose(joined, whole.stiffness, rtol=1e-12, atol=1e-6)


def test_patterns_condense_as_one_batch() -> None:
    """Any leading axes: a batch of screw patterns gives what they give one by one."""
    frames = [build_frame(bridged(0, count, holes=8)) for count in (2, 3, 4)]
    together = condense_fragment(
        FragmentBlocks(*(np.stack([getattr(f.blocks, field.name) for f in frames]) for field in fields(FragmentBlocks)))
    )
    for n, frame in enumerate(frames):
        assert np.allclose(together.stiffness[n], frame.condensed.stiffness, rtol=1e-12)
