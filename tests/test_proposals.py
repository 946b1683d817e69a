"""What buttons propose, against a search of our own: every place on a grid, judged by all the rules."""

from pathlib import Path

import pytest

from app.assess import Assessment, Knowledge, assess, load_knowledge
from app.case import Case, apply
from app.case.codes import patterns_of
from app.case.edits import AddLag, SetCode
from app.case.models import BONES, LagScrew
from app.catalogue import load_thresholds
from app.geometry import Line
from app.geometry.fracture import WEDGE
from app.rules import RuleInput
from app.rules.facts import lag_fault
from app.rules.trial import beside
from app.suggest import blank_case, fitting_principles, lag_place, no_lag_place, pattern_edit, suggest

KNOWLEDGE = load_knowledge()
EVERY = [(bone, pattern) for bone in BONES for pattern in patterns_of(bone)]
REACH_MM = 40  # beside the fracture: a screw that crosses it, leaning 75°, enters no farther from it in these bones


def fractured(bone: str, pattern: str) -> Case:
    case = blank_case("Trial", bone, KNOWLEDGE)
    return apply(case, pattern_edit(case.constructs[0], 0, pattern, KNOWLEDGE))


def graves(assessment: Assessment) -> dict[tuple[str, tuple[str, ...]], str]:
    told = (*assessment.constructs[0].warnings, *assessment.warnings)
    return {(w.rule, w.subject): w.level for w in reversed(told) if w.level != "note"}  # the gravest comes first


def is_clean(case: Case, before: Assessment, edit: AddLag) -> bool:
    known, now = graves(before), graves(assess(apply(case, edit), KNOWLEDGE, mechanics=False, remedies=False))
    return all(key in known and (level, known[key]) != ("stop", "caution") for key, level in now.items())


def found_on_the_grid(case: Case, before: Assessment) -> LagScrew | None:
    """The first clean place by 1 mm and 5°, of any size. Where a lag screw presses nothing, that is a stop already."""
    layout = before.constructs[0].layout
    rules_see = RuleInput(case, 0, layout, before.constructs[0].summary, KNOWLEDGE.catalogue, KNOWLEDGE.thresholds)
    extents = [end for line in layout.fracture.lines for end in _extent(line)]
    low, high = max(5, int(min(extents)) - REACH_MM), min(int(layout.shape.length_mm) - 5, int(max(extents)) + REACH_MM)
    sizes = [key for key, screw in KNOWLEDGE.catalogue.screws.items() if screw.kind == "cortex"]
    for position in range(low, high + 1):
        for tilt in range(-75, 76, 5):
            lags = [LagScrew(position_mm=position, tilt_deg=tilt, screw=size) for size in sizes]
            if lag_fault(rules_see, beside(rules_see, lags[0])) is not None:
                continue
            for lag in lags:
                if is_clean(case, before, AddLag(value=lag)):
                    return lag
    return None


def _extent(line: Line) -> tuple[float, float]:
    return line.extent_mm


@pytest.mark.parametrize(("bone", "pattern"), EVERY)
def test_a_lag_screw_is_proposed_where_one_brings_no_stop_and_no_caution(bone: str, pattern: str) -> None:
    case = fractured(bone, pattern)
    before = assess(case, KNOWLEDGE, mechanics=False)
    place = lag_place(before, 0, KNOWLEDGE)
    if place.edit is not None:
        assert place.why == ""
        assert is_clean(case, before, place.edit)
    else:
        assert found_on_the_grid(case, before) is None
        assert place.why.startswith("No place for an independent lag screw: ")
        assert place.why.endswith(".")


def test_a_second_lag_screw_goes_where_the_middle_of_the_fracture_is_taken() -> None:
    case = fractured("humerus", "A3")
    for _ in range(2):
        before = assess(case, KNOWLEDGE, mechanics=False)
        place = lag_place(before, 0, KNOWLEDGE)
        assert place.edit is not None
        assert is_clean(case, before, place.edit)
        case = apply(case, place.edit)


@pytest.mark.parametrize("bone", ["humerus", "radius", "femur", "tibia"])
def test_beside_a_wedge_that_is_caught_the_main_line_is_pressed(bone: str) -> None:
    """AO Surgery Reference, wedge fractures: the wedge is joined to a main fragment, then the main line is pressed."""
    case = fractured(bone, "B2")
    pressed = []
    for _ in range(2):
        before = assess(case, KNOWLEDGE, mechanics=False)
        place = lag_place(before, 0, KNOWLEDGE)
        assert place.edit is not None, place.why
        assert is_clean(case, before, place.edit)
        case = apply(case, place.edit)
        screw = assess(case, KNOWLEDGE, mechanics=False).constructs[0].layout.screws[-1]
        pressed.append(WEDGE in screw.owners)
    assert sorted(pressed) == [False, True]


def test_a_case_file_that_is_full_of_lag_screws_is_told_so() -> None:
    case = fractured("femur", "A2")
    for position in range(100, 220, 20):
        case = apply(case, AddLag(value=LagScrew(position_mm=position)))
    full = assess(case, KNOWLEDGE, mechanics=False)
    place = lag_place(full, 0, KNOWLEDGE)
    assert (place.edit, place.why) == (None, "No place for an independent lag screw: there are 6 already.")
    assert no_lag_place(full, 0, KNOWLEDGE) == place.why


@pytest.mark.parametrize(("bone", "pattern"), EVERY)
def test_nobody_is_told_that_there_is_no_place_before_the_search_would_say_so(bone: str, pattern: str) -> None:
    """Without a search no more is known than that a zone without load-bearing bone leaves nothing to press."""
    before = assess(fractured(bone, pattern), KNOWLEDGE, mechanics=False)
    lines = before.constructs[0].layout.fracture.lines
    why = no_lag_place(before, 0, KNOWLEDGE)
    assert bool(why) == all(line.zone_mm > 0 for line in lines)
    assert why in ("", lag_place(before, 0, KNOWLEDGE).why)


def departments(folder: Path, thresholds: str) -> Knowledge:
    file = folder / "thresholds.toml"
    file.write_text(thresholds, encoding="utf-8")
    return Knowledge(KNOWLEDGE.catalogue, load_thresholds(file))


def test_suggestions_follow_the_departments_border_of_oblique(tmp_path: Path) -> None:
    """45° is oblique by AO/OTA 2018 (from 30°); a department that draws the line at 50° treats it as transverse."""
    case = apply(fractured("tibia", "A2"), SetCode(code=None))
    own = departments(tmp_path, "[pattern-angle]\noblique_from_deg = 50\n")
    assert case.constructs[0].fracture.lines[0].obliquity_deg == 45
    assert fitting_principles(case.constructs[0], KNOWLEDGE) == ("compression", "protection")
    assert fitting_principles(case.constructs[0], own) == ("compression",)
    lags = []
    for knowledge in (KNOWLEDGE, own):
        found = suggest(case, 0, "compression", knowledge)
        assert found is not None
        lags.append(any(hole.role == "lag" for hole in found.edit.value.holes) or bool(found.edit.value.lag_screws))
    assert lags == [True, False]


def test_a_proposed_lag_screw_keeps_the_departments_rim(tmp_path: Path) -> None:
    case = fractured("clavicle", "A")
    own = departments(tmp_path, "[lag-valid]\nrim_diameters = 3\n")
    places = [lag_place(assess(case, knowledge, mechanics=False), 0, knowledge) for knowledge in (KNOWLEDGE, own)]
    assert places[0].edit is not None
    assert places[0].edit != places[1].edit
