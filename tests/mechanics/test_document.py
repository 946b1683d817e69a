"""The ``mechanics`` part of the assessment: complete, finite, never silent."""

import math
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import assess, drawn, load_knowledge
from app.case.models import Case
from app.figures.bands import banded
from app.figures.document import MADE_OF, field_of, mechanics_document
from app.geometry import lay_out
from app.mechanics import Supports
from app.mechanics.document import ESTIMATE
from app.mechanics.of_layout import Loading, mechanics_of
from tests.rules.judging import edited, role, tibia, ulna
from tests.strategies import cases

KNOWLEDGE = load_knowledge()
ANSWERS = ("stiffness", "worst_line", "plate", "worst")
loadings = st.builds(
    Loading,
    st.just("own"),
    st.just(0.0) | st.floats(0, 10_000),
    st.just(0.0) | st.floats(-250, 250),
    st.just(0.0) | st.floats(0, 150),
    st.builds(Supports, st.sampled_from(["ball", "held"]), st.sampled_from(["ball", "held"])),
)


def documents(case: Case, loading: Loading) -> list[dict[str, Any]]:
    found = []
    for construct in case.constructs:
        layout = lay_out(construct, case.bone_quality, KNOWLEDGE.catalogue, KNOWLEDGE.allowances)
        found.append(mechanics_document(mechanics_of(layout, KNOWLEDGE.catalogue, loading)))
    return found


def numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from numbers(one)
    elif isinstance(value, float | int):
        yield float(value)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(cases(), loadings)
def test_nothing_is_infinite_or_silent(case: Case, loading: Loading) -> None:
    for document in documents(case, loading):
        assert all(math.isfinite(number) for number in numbers(document))
        assert document["note"] == ESTIMATE
        if document["unstable"] is not None:
            assert document["unstable"].startswith(("unstable: ", "not computed: "))
            assert all(document[key] is None for key in ANSWERS)
        else:
            assert all(one["value"] is not None and one["value"] > 0 for one in document["stiffness"].values())
            assert all(document[key] is not None for key in ANSWERS)
            assert len(document["lines"]) >= 1


def test_every_figure_of_the_table_stands_there_with_its_unit() -> None:
    (document,) = documents(ulna(), Loading("own", 50, 1, 1))
    line, plate = document["lines"][document["worst_line"]], document["plate"]
    found = {
        "StiffnessDocument": document["stiffness"],
        "MotionDocument": line["motion"],
        "ContactDocument": line["contact"],
        "PlateDocument": plate,
        "ScrewLoadDocument": document["screws"][0],
        "WorstDocument": document["worst"],
    }
    assert set(found) == set(MADE_OF)
    for kind, figures in MADE_OF.items():
        told = {name: one for name, one in found[kind].items() if isinstance(one, dict)}
        assert told == {field_of(figure): told[field_of(figure)] for figure in figures if field_of(figure) in told}
        assert {figure.unit for figure in figures if field_of(figure) in told} == {one["unit"] for one in told.values()}
        assert all(one["low"] is one["high"] is None for one in told.values())  # none was asked for
    assert len(plate["s_mm"]) == len(plate["stress_mpa"]) > 11
    assert plate["peak_stress"]["value"] == max(plate["stress_mpa"])
    assert plate["yield_ratio"]["value"] == pytest.approx(
        plate["peak_stress"]["value"] / plate["yield_strength_mpa"], rel=1e-3
    )
    assert document["load"] == {"axial_n": 50.0, "bending_nm": 1.0, "lateral_nm": 0.0, "torsion_nm": 1.0}
    assert document["supports"] == {"proximal": "ball", "distal": "ball"}


def bands_in(value: Any) -> int:
    if isinstance(value, list):
        return sum(map(bands_in, value))
    if not isinstance(value, dict):
        return 0
    return 1 if value.get("low") is not None else sum(map(bands_in, value.values()))


def test_every_band_has_its_place_beside_its_figure() -> None:
    one = assess(tibia(), KNOWLEDGE).constructs[0]
    assert one.mechanics is not None
    answers = drawn(one, KNOWLEDGE.catalogue)
    document = mechanics_document(one.mechanics, answers)
    assert bands_in(document) == len(list(banded(one.mechanics, answers))) > 15
    told = document["stiffness"]
    assert told is not None
    for figure in told.values():
        assert figure["low"] <= figure["value"] <= figure["high"]  # type: ignore[index]


def test_closed_faces_say_so_in_place_of_a_strain() -> None:
    (document,) = documents(tibia(), Loading("own", 300, 2, 2))
    line = document["lines"][document["worst_line"]]
    assert line["motion"]["strain_near"]["value"] is line["motion"]["strain_far"]["value"] is None
    assert "touch" in line["motion"]["no_strain"]
    assert line["contact"]["near_closed"]
    assert line["contact"]["far_closed"]


@pytest.mark.parametrize(
    ("emptied", "told"),
    [((1, 3), "the proximal fragment has no screw"), ((9,), "the distal fragment turns about its only screw")],
)
def test_unstable_says_why(emptied: tuple[int, ...], told: str) -> None:
    """Statics: three freedoms of a fragment in a plane, of which one screw leaves the turning."""
    case = edited(ulna(), *(role(hole, "empty") for hole in emptied))
    (document,) = documents(case, Loading("own", 50, 1, 1))
    assert told in document["unstable"]
