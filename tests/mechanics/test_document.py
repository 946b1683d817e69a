"""The ``mechanics`` part of the assessment: complete, finite, never silent."""

import math
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import load_knowledge
from app.case.models import Case
from app.geometry import lay_out
from app.mechanics import Supports
from app.mechanics.document import ESTIMATE, mechanics_document
from app.mechanics.of_layout import Loading, mechanics_of
from tests.rules.judging import edited, role, tibia, ulna
from tests.strategies import cases

KNOWLEDGE = load_knowledge()
STIFFNESS = ("axial_stiffness_n_per_mm", "bending_stiffness_nm_per_deg", "torsional_stiffness_nm_per_deg")
ANSWERS = ("motion_mm", "strain_percent", "interface", "plate_stress_mpa")
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
            stiff = [document[STIFFNESS[0]], *document[STIFFNESS[1]].values(), document[STIFFNESS[2]]]
            assert all(value is not None and value > 0 for value in stiff)
            assert all(document[key] is not None for key in ANSWERS)
            assert len(document["lines"]) >= 1


def test_keys_of_a_bridged_construct() -> None:
    (document,) = documents(ulna(), Loading("own", 50, 1, 1))
    assert set(document) >= {*STIFFNESS, *ANSWERS, "unstable", "supports", "load", "lines", "screws", "note"}
    assert set(document["bending_stiffness_nm_per_deg"]) == {"plate_tension", "plate_compression"}
    assert set(document["motion_mm"]) == {"near", "far", "shear"}
    assert set(document["strain_percent"]) == {"near", "far", "reason"}
    assert {"closed", "opens_at_n", "margin"} <= set(document["interface"])
    stress = document["plate_stress_mpa"]
    assert {"s_mm", "stress_mpa", "peak_mpa", "peak_s_mm", "fatigue_ratio", "yield_ratio"} <= set(stress)
    assert len(stress["s_mm"]) == len(stress["stress_mpa"]) > 11
    assert stress["peak_mpa"] == max(stress["stress_mpa"])
    assert stress["yield_ratio"] == pytest.approx(stress["peak_mpa"] / stress["yield_strength_mpa"], rel=1e-3)
    for screw in document["screws"]:
        assert {"id", "pull_out_ratio", "bending_ratio", "friction_ratio"} <= set(screw)
    assert document["load"] == {"axial_n": 50.0, "bending_nm": 1.0, "lateral_nm": 0.0, "torsion_nm": 1.0}
    assert document["supports"] == {"proximal": "ball", "distal": "ball"}


def test_closed_faces_say_so_in_place_of_a_strain() -> None:
    (document,) = documents(tibia(), Loading("own", 300, 2, 2))
    assert document["strain_percent"]["near"] is document["strain_percent"]["far"] is None
    assert "touch" in document["strain_percent"]["reason"]
    assert document["interface"]["closed"]


@pytest.mark.parametrize(
    ("emptied", "told"),
    [((1, 3), "the proximal fragment has no screw"), ((9,), "the distal fragment turns about its only screw")],
)
def test_unstable_says_why(emptied: tuple[int, ...], told: str) -> None:
    """Statics: three freedoms of a fragment in a plane, of which one screw leaves the turning."""
    case = edited(ulna(), *(role(hole, "empty") for hole in emptied))
    (document,) = documents(case, Loading("own", 50, 1, 1))
    assert told in document["unstable"]
