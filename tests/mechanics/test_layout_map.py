"""The map of layouts against single solutions: every figure, to 1e-9 of itself.

Motion and strain at one cortex may be next to nothing where the face turns about it: those are compared with the larger
of the two at their line. A plate that bears nothing, as under a single screw astride the line, has rounding for its
stress: less than `NO_STRESS_MPA` counts as that. Of random constructs, layouts in which a fragment hangs on one plate
screw and a lag are held to 1e-7: where less than a micrometre is left of tenths of a millimetre, a single solution
itself scatters by 5e-9 of it if a modulus changes in its last digits. The single solutions are checked against the
outside elsewhere in this folder.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.mechanics import Construct, FractureLine, LagScrew, LoadCase, Supports, analyse
from app.mechanics.layout import held_fragments
from app.mechanics.layouts.answers import NAMES, LayoutMap, figures_of
from app.mechanics.layouts.solve import MOST_HOLES, layout_map, with_layout
from tests.mechanics.constructs import STEEL_MPA, bridged, compressed, plate, screw, tube
from tests.mechanics.random_constructs import constructs

SAME, HANGING = 1e-9, 1e-7
LEAST = {"peak_stress": 0.5, "pull_out": 1e-4}  # MPa, and of the pull-out force: below is nothing
LOAD = LoadCase(axial_n=500.0, bending_nmm=2000.0, lateral_nmm=300.0, torsion_nmm=1000.0)
PAIRS = {"near_strain": "far_strain", "near_motion": "far_motion"}


def differences(construct: Construct, found: LayoutMap, layouts: Iterable[int], hanging: float = SAME) -> list[str]:
    """What differs between a map and single solutions, in words; `hanging` is asked where a fragment hangs."""
    told = []
    for number in layouts:
        result = analyse(with_layout(construct, found.holes, number))
        if (result.unstable is not None) != bool(found.unstable[number] or found.unsolved[number]):
            told.append(f"layout {number}: {result.unstable}")
        single, same = figures_of(result), hanging if hangs(construct, found.filled(number)) else SAME
        for name in NAMES:
            mine, own = float(getattr(found.figures, name)[number]), single[name]
            other = {**PAIRS, **{far: near for near, far in PAIRS.items()}}.get(name, name)
            scale = np.nanmax([abs(own), abs(single[other]), LEAST.get(name, 1e-12)])
            if math.isnan(own) != math.isnan(mine) or abs(mine - own) > same * scale:
                told.append(f"layout {number}: {name} {mine} for {own}")
    return told


def hangs(construct: Construct, filled: tuple[int, ...]) -> bool:
    """Whether some fragment is tied to the plate by one screw."""
    tied = [f for s in construct.screws if s.hole_number in filled for f in held_fragments(s)]
    return any(tied.count(fragment) == 1 for fragment in range(construct.fragment_count))


def whole(holes: int = 8, **more: object) -> Construct:
    """A closed line under a plate whose holes all take a clamped screw, one of them eccentric."""
    base = compressed(load=LOAD)
    have = {s.hole_number: s for s in base.screws}
    rest = (screw(h, int(h > 4), int(h > 4), "clamped", clamp_force_n=1500.0) for h in range(1, holes + 1))
    screws = tuple(have.get(s.hole_number, s) for s in rest)
    return replace(base, screws=screws, **more)  # type: ignore[arg-type]


def lag(force: float = 800.0) -> LagScrew:
    return LagScrew("lag", 194.0, 206.0, 0, 1, 2.4, 3.5, 1.25, STEEL_MPA, force)


def two_lines(zone: float, gap: float) -> Construct:
    """Ten locking screws over three fragments; the lines differ, so that one of them always moves more."""
    screws = tuple(screw(h, *(2 * ((h > 3) + (h > 7),))) for h in range(1, 11))
    lines = (FractureLine(163.0, 0.0, zone, gap), FractureLine(238.0, 10.0, 0.0, gap / 2.0))
    return replace(bridged(holes=10, load=LOAD), screws=screws, fracture_lines=lines)


def astride() -> Construct:
    """An oblique line past which some screws reach, beside a hole that a lag screw crosses it from."""
    screws = [screw(h, int(h > 5), int(h > 4)) for h in range(1, 10)]
    screws[5] = screw(6, 0, 1, "lag", clamp_force_n=900.0, lag_force_n=900.0, far_s_mm=212.0)
    base = replace(bridged(holes=9, load=LOAD), screws=tuple(screws))
    return replace(base, fracture_lines=(FractureLine(203.0, 40.0, 0.0, 0.0),))


def one_cortex() -> Construct:
    """Screws of all kinds, with idle ones among them."""
    kinds = ("locking-1", "locking-2", "clamped", "locking-2", "clamped", "locking-1", "locking-2", "locking-2")
    screws = [screw(n + 1, int(n > 3), int(n > 3), kind, clamp_force_n=900.0) for n, kind in enumerate(kinds)]  # type: ignore[arg-type]
    screws[3], screws[4] = screw(4, None, None), screw(5, None, 1, "clamped", clamp_force_n=500.0)
    return replace(bridged(holes=8, load=LOAD, gap=0.3), screws=tuple(screws))


def unloaded_plate() -> Construct:
    """A lag, and one locking screw whose far cortex is beyond the line: alone it leaves the plate nothing to bear."""
    screws = tuple(screw(h, int(h > 4), int(h > 3)) for h in range(1, 9))
    line = FractureLine(200.0, -35.0, 0.0, 0.5)
    return replace(bridged(holes=8, load=LOAD), screws=screws, fracture_lines=(line,), lag_screws=(lag(),))


def hanging() -> Construct:
    """A fragment on one plate screw and a lag, bent by much and pressed by little: it is all but loose.

    The inverse of the open construct's compliance has too few digits here.
    """
    screws = tuple(screw(h, (h > 2) + (h > 7), (h > 2) + (h > 7)) for h in (1, 2, 7, 8, 9, 10))
    across = LagScrew("lag", 157.0, 169.0, 0, 1, 2.4, 3.5, 1.25, STEEL_MPA, 675.0)
    return replace(
        bridged(holes=10, load=LoadCase(axial_n=5.0, bending_nmm=6400.0, lateral_nmm=4250.0, torsion_nmm=5000.0)),
        screws=screws,
        fracture_lines=(FractureLine(163.0, -35.0, 0.0, 0.5), FractureLine(238.0, -35.0, 0.0, 0.5)),
        lag_screws=(across,),
        prebend_mm=1.0,
    )


HELD = Supports("held", "held")
EVERY = {
    "open": bridged(holes=8, load=LOAD),
    "open, held": replace(bridged(holes=8, load=LOAD), supports=HELD),
    "open, held at one end": replace(bridged(holes=8, load=LOAD), supports=Supports("ball", "held")),
    "closing": bridged(holes=8, gap=0.05, load=LOAD),
    "closing, held": replace(bridged(holes=8, gap=0.05, load=LOAD), supports=HELD),
    "eccentric": whole(),
    "eccentric, oblique, pre-bent": whole(prebend_mm=1.0, fracture_lines=(FractureLine(200.0, 35.0),)),
    "eccentric, held, pulled": whole(supports=HELD, load=LoadCase(-100.0, -3000.0, 0.0, 4000.0)),
    "lag": whole(lag_screws=(lag(),), fracture_lines=(FractureLine(200.0, 35.0),)),
    "lag over a zone": replace(
        bridged(holes=8, load=LOAD),
        fracture_lines=(FractureLine(200.0, 0.0, 3.0, 0.0),),
        lag_screws=(lag(),),
        supports=HELD,
    ),
    "every kind": one_cortex(),
    "a screw astride that bears all": unloaded_plate(),
    "astride": astride(),
    "hanging": hanging(),
}


@pytest.mark.parametrize("name", EVERY)
def test_every_layout_is_as_if_solved_alone(name: str) -> None:
    construct = EVERY[name]
    found = layout_map(construct)
    assert not differences(construct, found, range(len(found.unstable)))
    assert found.singly == 0


@pytest.mark.parametrize(("zone", "gap"), [(0.0, 5.0), (4.0, 0.0), (0.0, 0.0)])
@pytest.mark.parametrize("supports", [Supports(), Supports("held", "ball")])
def test_two_lines(zone: float, gap: float, supports: Supports) -> None:
    construct = replace(two_lines(zone, gap), supports=supports)
    found = layout_map(construct)
    layouts = np.random.default_rng(5).choice(len(found.unstable), 150, replace=False)
    assert not differences(construct, found, layouts.tolist())


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(constructs(gaps=st.sampled_from((0.0, 0.0, 0.02, 0.5, 5.0)), preload=True), st.integers(0, 2**32 - 1))
def test_random_constructs(construct: Construct, seed: int) -> None:
    found = layout_map(construct)
    stable = np.flatnonzero(~found.unstable)
    rng = np.random.default_rng(seed)
    layouts = {int(rng.integers(len(found.unstable))), *rng.permutation(stable)[:12].tolist()}
    assert not differences(construct, found, sorted(layouts), HANGING)


def test_a_layout_that_holds_nothing_has_no_figures() -> None:
    found = layout_map(EVERY["open"])
    alone = found.number({1, 8})
    assert found.unstable[alone]
    assert all(math.isnan(getattr(found.figures, name)[alone]) for name in NAMES)
    assert found.filled(found.number({2, 5})) == (2, 5)
    assert found.screws[found.number({2, 5})] == 2


def test_more_screws_never_make_a_bridge_less_stiff() -> None:
    """Rayleigh: a support more never makes a linear structure more compliant (theory of structures).

    A locking head also fills its hole, which makes the plate stiffer there. True to rounding of every pair of layouts
    that differ by one screw.
    """
    found = layout_map(EVERY["open"])
    stiff, number = found.figures.axial_stiffness, np.arange(len(found.unstable))
    compared = 0
    for k in range(len(found.holes)):
        more = number | (1 << k)
        both = (more != number) & ~found.unstable & ~found.unstable[more]
        assert (stiff[more[both]] >= stiff[number[both]] * (1.0 - 1e-9)).all()
        compared += int(both.sum())
    assert compared > 300


def test_turned_end_for_end_the_map_is_the_same() -> None:
    construct = replace(EVERY["closing"], load=LoadCase(500.0, 2000.0, 0.0, 1000.0))
    mirrored = replace(
        construct,
        screws=tuple(
            screw(9 - s.hole_number, 1 - (s.near_fragment or 0), 1 - (s.far_fragment or 0)) for s in construct.screws
        ),
    )
    one, other = layout_map(construct), layout_map(mirrored)
    back = [other.number({9 - hole for hole in one.filled(number)}) for number in range(len(one.unstable))]
    for name in ("axial_stiffness", "torsional_stiffness", "peak_stress", "pull_out", "screw_bending"):
        turned, own = getattr(other.figures, name)[back], getattr(one.figures, name)
        assert np.allclose(turned, own, rtol=1e-7, equal_nan=True), name


def test_too_many_holes_are_refused() -> None:
    holes = MOST_HOLES + 1
    screws = tuple(screw(h, int(h > 8), int(h > 8)) for h in range(1, holes + 1))
    long = replace(bridged(), bone=tube(600.0), plate=plate(holes, middle=300.0), screws=screws)
    with pytest.raises(ValueError, match="up to 16 holes"):
        layout_map(replace(long, fracture_lines=(FractureLine(300.0, gap_mm=5.0),)))
