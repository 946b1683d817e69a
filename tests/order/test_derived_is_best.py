"""The derived order raises no warning about the order.

Classical constructs one by one; then every way to fill six holes over one line, judged by brute force.
"""

import itertools
from collections.abc import Iterator

import pytest

from app.case.models import Bone, BoneName, Construct, Fracture, FractureLine, LagScrew, Plate, Principle, Wedge
from app.rules.compression import COMPRESSION_RULES
from tests.order.constructs import CATALOGUE, holes
from tests.order.test_order_rules import case_of, judged, rules

Made = tuple[str, Construct]


def plated(
    bone: BoneName,
    series: str,
    roles: str,
    lines: tuple[FractureLine, ...],
    principle: Principle = "compression",
    *,
    lags: tuple[LagScrew, ...] = (),
    wedge: Wedge | None = None,
    prebend_mm: float = 0,
    tilts: dict[int, float] | None = None,
) -> Construct:
    """A plate whose middle lies over the middle of its fracture lines."""
    middle = sum(line.position_mm for line in lines) / len(lines)
    return Construct(
        bone=Bone(name=bone),
        fracture=Fracture(lines=lines, wedge=wedge),
        principle=principle,
        plate=Plate(series=series, holes=len(roles), centre_mm=middle, prebend_mm=prebend_mm),
        holes=holes(roles, tilts),
        lag_screws=lags,
    )


def line(bone: BoneName, obliquity_deg: float = 0, *, zone_mm: float = 0, off_mm: float = 0) -> FractureLine:
    middle = CATALOGUE.bones[bone].length_mm / 2
    return FractureLine(position_mm=middle + off_mm, obliquity_deg=obliquity_deg, zone_mm=zone_mm)


def mid(bone: BoneName) -> float:
    return CATALOGUE.bones[bone].length_mm / 2


# The ways of holding a shaft that every textbook has (common practice; handbook pages stand beside the rules).
CLASSICAL: list[Made] = [
    ("eccentric on both sides", plated("radius", "small-3.5", "NNEENN", (line("radius"),), prebend_mm=1.5)),
    ("eccentric on both sides, large", plated("humerus", "large-narrow-4.5", "NN.EE.NN", (line("humerus"),))),
    ("oblique, lag through the plate", plated(
        "radius", "small-3.5", "NNN.L.ENN", (line("radius", 45),), tilts={5: -22})),
    ("lag and protection", plated(
        "tibia", "large-narrow-4.5", "NNN...NNN", (line("tibia", 55),), "protection",
        lags=(LagScrew(position_mm=mid("tibia") - 2, tilt_deg=-35),))),
    ("lag and protection, locked", plated(
        "humerus", "large-narrow-4.5", "2N2...2N2", (line("humerus", 55),), "protection",
        lags=(LagScrew(position_mm=mid("humerus") - 2, tilt_deg=-35),))),
    ("wedge lagged and protected", plated(
        "ulna", "small-3.5", "NNN...NNN", (line("ulna", 20),), "protection",
        wedge=Wedge(side="far", length_mm=20), lags=(LagScrew(position_mm=mid("ulna") + 3),))),
    ("bridging, locked", plated(
        "femur", "large-broad-4.5", "2.2.2....2.2.2", (line("femur", zone_mm=30),), "bridging")),
    ("bridging, a cortex screw in each fragment draws the bone up", plated(
        "tibia", "large-narrow-4.5", "2.2N....N2.2", (line("tibia", zone_mm=20),), "bridging")),
    ("bridging, cortex screws at the ends", plated(
        "tibia", "large-narrow-4.5", "N.22....22.N", (line("tibia", zone_mm=20),), "bridging")),
    ("poor bone, cortex and locking", plated("humerus", "large-narrow-4.5", "2N2NE22N2", (line("humerus"),))),
    ("poor bone, locking only beside one pull", plated("humerus", "large-narrow-4.5", "2222E2222", (line("humerus"),))),
    ("segmental, both lines compressed", plated(
        "tibia", "large-narrow-4.5", "NNENN.NNENN", (line("tibia", off_mm=-45), line("tibia", off_mm=45)))),
    ("segmental, both from both sides", plated(
        "tibia", "large-narrow-4.5", "NNEEN.NEENN", (line("tibia", off_mm=-45), line("tibia", off_mm=45)))),
    ("segmental, bridged", plated(
        "tibia", "large-narrow-4.5", "2.2.22.2.2.2", (line("tibia", 30, off_mm=-40), line("tibia", off_mm=40)),
        "bridging")),
    ("one-third tubular, lag through it", plated(
        "fibula", "third-tubular-3.5", "NNNL.NNN", (line("fibula", 45),), "protection", tilts={4: -22})),
    ("one-third tubular over an independent lag", plated(
        "fibula", "third-tubular-3.5", "NNN..NNN", (line("fibula", 45),), "protection",
        lags=(LagScrew(position_mm=mid("fibula") - 1, tilt_deg=-30),))),
]  # fmt: skip


@pytest.mark.parametrize("construct", [pytest.param(made, id=name) for name, made in CLASSICAL])
def test_classical_constructs_raise_nothing(construct: Construct) -> None:
    assert rules(construct) - {"torque-by-hand"} == set()


def assignments() -> Iterator[str]:
    """Every filling of three holes on either side with at least one screw each, two of them eccentric at most."""
    for roles in itertools.product(".NE2", repeat=6):
        letters = "".join(roles)
        if letters.count("E") <= 2 and letters[:3].strip(".") and letters[3:].strip("."):
            yield letters


EVERY = list(assignments())


def six_holes(roles: str, obliquity_deg: float, principle: Principle = "compression") -> Construct:
    return plated("humerus", "large-narrow-4.5", roles, (line("humerus", obliquity_deg),), principle)


def of_order(construct: Construct, order: tuple[str, ...] | None = None) -> frozenset[str]:
    return frozenset(rules(construct, order) - {"torque-by-hand"})


def test_the_fillings_are_all_there() -> None:
    # by hand: a side with k eccentric screws can be filled in 26 (k = 0, not empty), 27 (k = 1) or 9 ways (k = 2)
    assert len(EVERY) == len(set(EVERY)) == 26 * 26 + 2 * 26 * 27 + 27 * 27 + 2 * 26 * 9


@pytest.mark.parametrize("principle", ["compression", "protection", "bridging"])
def test_over_a_transverse_line_the_derived_order_raises_nothing(principle: Principle) -> None:
    assert [roles for roles in EVERY if of_order(six_holes(roles, 0, principle))] == []


@pytest.mark.parametrize("obliquity_deg", [45, -45])
def test_over_an_oblique_line_it_raises_nothing_and_wrong_roles_are_told_as_such(obliquity_deg: float) -> None:
    """No order helps where the obtuse side is pulled: that is a fault of the roles, and one rule tells it."""
    assert [roles for roles in EVERY if of_order(six_holes(roles, obliquity_deg))] == []
    obtuse = slice(0, 3) if obliquity_deg > 0 else slice(3, 6)
    sides = COMPRESSION_RULES.rules["first-screw-side"]
    wrong = [roles for roles in EVERY if "E" in roles[obtuse]]
    assert wrong
    for roles in wrong:
        told = list(sides.judge(judged(case_of(six_holes(roles, obliquity_deg)))))
        assert [found.level for found in told] == [None], roles
