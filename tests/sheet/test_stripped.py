"""A screw strips: what replaces it must do what it did (common practice, no source, unless said)."""

import re

import pytest

from app.case.models import BONES, BoneName, Construct
from app.sheet.fallback import fallback_rows
from app.sheet.stripped import gliding_mm, rescues, stripped_words
from tests.order.constructs import CATALOGUE, laid, oblique, oblique_radius, protected, transverse
from tests.order.test_derived_is_best import CLASSICAL

MADE = {name: made for name, made in CLASSICAL if made.lag_screws or any(hole.role == "lag" for hole in made.holes)}


def sentences(construct: Construct) -> list[str]:
    return re.split(r"(?<=\.) (?=\d\.\d mm|Or|No)", stripped_words(laid(construct), CATALOGUE))


def about(construct: Construct, what: str) -> str:
    (found,) = [one for one in sentences(construct) if what in one.split(":")[0]]
    return found


@pytest.mark.parametrize("construct", [pytest.param(made, id=name) for name, made in MADE.items()])
def test_a_lag_is_never_replaced_by_a_locking_screw(construct: Construct) -> None:
    # AO Surgery Reference, distal femur: a locking screw keeps the distance it finds; a lag must draw together
    lags = [one for one in sentences(construct) if "lag screw" in one.split(":")[0]]
    assert lags
    for one in lags:
        ways, never = one.split("; never ")
        assert "locking" not in ways
        assert "locking screw" in never
        assert "at another place" in ways


@pytest.mark.parametrize("bone", BONES)
@pytest.mark.parametrize("beside", [False, True], ids=["through the plate", "independent"])
def test_a_thicker_lag_glides_in_a_hole_as_wide_as_its_thread(bone: BoneName, beside: bool) -> None:
    # AO Surgery Reference, hand: the near hole glides, the far one holds the thread
    layout = laid(protected(bone) if beside else oblique(bone, 40))
    one = about(layout.construct, "lag screw")
    found = re.search(r"the (\d\.\d) mm cortex screw, the gliding hole first widened to (\d[\d.]*)", one)
    assert found is not None
    thread, hole = (float(figure) for figure in found.groups())
    assert hole >= thread > next(screw for screw in layout.screws if screw.role == "lag").spec.thread_mm
    assert beside or hole <= layout.series.hole_mm
    ready = dict(fallback_rows(layout, CATALOGUE))["Have ready"]
    assert f"{hole:g} mm drill bit for a gliding hole" in ready


def test_where_no_thicker_lag_passes_the_hole_another_place_is_left() -> None:
    small = oblique("clavicle", 40)
    mini = small.model_copy(update={"plate": small.plate.model_copy(update={"series": "mini-2.7"})})
    assert about(mini, "through the plate") == (
        "2.7 mm cortex screw as a lag screw through the plate: a new lag screw at another place; never a locking "
        "screw, which would hold the pieces apart."
    )


def test_in_an_eccentric_ones_place_a_locking_screw_compresses_no_more() -> None:
    one = about(oblique_radius(), "eccentric")
    assert "4.0 mm cortex screw (drill 3)" in one
    assert "3.5 mm locking screw, which keeps the position but compresses no more" in one
    assert "distance that it finds" in about(oblique_radius(), "neutral")
    # a plate whose holes take none
    fibula = transverse("fibula")
    assert "locking" not in about(fibula, "eccentric")


def test_under_protection_an_eccentric_screw_counts_as_neutral() -> None:
    # nothing is to be compressed: the plan asks to make it neutral
    construct = transverse("radius").model_copy(update={"principle": "protection"})
    assert not [one for one in sentences(construct) if "eccentric" in one]


def test_drill_bits_are_those_of_the_screw() -> None:
    for one in rescues(laid(oblique("humerus", 40)), CATALOGUE):
        assert one.gliding_mm == gliding_mm(one.spec) == one.spec.gliding_drill_mm
