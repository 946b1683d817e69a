"""Facts of the trade and published figures that the rules must agree with."""

from dataclasses import replace

import pytest

from app.case.models import BoneQuality, Case
from app.catalogue import Thresholds
from tests.rules.judging import KNOWLEDGE, edited, judged, radius, role, ulna, warnings_of
from tests.rules.scenes import SCENES

NUMBER_OR_SIDE = {
    "screws-per-fragment", "fill-in-poor-bone", "screw-density", "spread", "plate-span", "bridging-span",
    "first-screw-side", "eccentric-count", "lag-missing",
}  # fmt: skip


def grave(case: Case) -> set[str]:
    return {warning.rule for warning in warnings_of(case) if warning.level != "note"}


@pytest.mark.parametrize("obliquity_deg", [40.0, 45.0])
def test_five_screws_on_an_oblique_radius_are_enough_and_on_the_right_side(obliquity_deg: float) -> None:
    # common practice, no source
    case = radius(obliquity_deg)
    one = judged(case)
    assert [fragment.holes for fragment in one.summary.fragments] == [3, 4]
    assert one.summary.holes_over_fracture == (4,)
    assert len(one.layout.screws) == 5
    assert not grave(case) & NUMBER_OR_SIDE


def test_at_45_degrees_the_same_construct_is_clean_altogether() -> None:
    # common practice, no source; the lag leans its full 25 degrees and is then just 20 off the perpendicular
    assert grave(radius(45.0)) == set()


@pytest.mark.parametrize(("quality", "told"), [("normal", False), ("reduced", False), ("poor", True)])
def test_only_poor_bone_wants_its_holes_filled(quality: BoneQuality, told: bool) -> None:
    # common practice, no source
    assert ("fill-in-poor-bone" in grave(radius(45.0, quality))) is told


def test_all_holes_but_the_one_over_the_fracture_are_named() -> None:
    # common practice, no source
    plain = {"op": "set_plate", "series": "small-compression-3.5", "holes": 8}
    told = warnings_of(edited(radius(45, "poor"), plain, role(4, "empty")))
    (found,) = [w for w in told if w.rule == "fill-in-poor-bone"]
    assert found.subject == ("h2", "h6", "h7")


def test_poor_bone_under_a_plate_that_locks_gets_locking_screws() -> None:
    # AO Surgery Reference, humerus, ulna and femur: a locking plate in osteoporotic bone
    case = radius(45, "poor")
    (found,) = [w for w in warnings_of(case) if w.rule == "fill-in-poor-bone"]
    assert found.remedy is not None
    roles = [hole.role for hole in edited(case, found.remedy.edit).constructs[0].holes]
    before = [hole.role for hole in case.constructs[0].holes]
    assert {now for now, was in zip(roles, before, strict=True) if now != was} == {"locking-2"}
    assert roles[4] == "eccentric"  # what pulls, and what holds against it next to the fracture, stay
    assert roles[2] == "neutral"


@pytest.mark.parametrize("obliquity_deg", [-40.0, -45.0])
def test_mirrored_obliquity_puts_the_first_screw_on_the_wrong_side(obliquity_deg: float) -> None:
    # common practice, no source; AO Surgery Reference, plates on oblique fractures, gives the same rule
    assert "first-screw-side" in grave(radius(obliquity_deg))
    assert "first-screw-side" not in grave(radius(-obliquity_deg))


def test_four_locking_screws_bridge_a_multifragmentary_ulna() -> None:
    # common practice, no source
    assert not grave(ulna()) & NUMBER_OR_SIDE
    assert grave(ulna()) == set()


@pytest.mark.parametrize(("obliquity_deg", "code", "agree"), [
    (29.9, "2R2A3", True), (29.9, "2R2A2", False), (30.0, "2R2A2", True), (30.0, "2R2A3", False),
    (-30.0, "2R2A2", True), (-29.9, "2R2A3", True), (60.0, "2R2A1", True), (10.0, "2R2A1", False),
])  # fmt: skip
def test_oblique_begins_at_30_degrees(obliquity_deg: float, code: str, agree: bool) -> None:
    # AO/OTA compendium 2018, groups A2 and A3: 30 degrees; AO Surgery Reference, humerus, is headed "oblique (≥30°)"
    case = edited(
        radius(),
        {"op": "set_obliquity", "obliquity_deg": obliquity_deg},
        {"op": "set_code", "code": code},
    )
    assert ("pattern-angle" not in {warning.rule for warning in warnings_of(case)}) is agree


@pytest.mark.parametrize(("tilt_deg", "slides"), [(-25.0, False), (-24.0, True), (-20.0, True)])
def test_fragments_slide_past_20_degrees_of_lag_angle(tilt_deg: float, slides: bool) -> None:
    # Johner 1983, in Wheeless' Textbook of Orthopaedics, lag screw theory. At 45 degrees of obliquity the
    # perpendicular leans 45 degrees, so that a tilt of 25 is 20 off it.
    assert ("lag-angle" in grave(edited(radius(45.0), role(4, "lag", tilt_deg)))) is slides


@pytest.mark.parametrize(("filled", "told"), [(5, False), (6, True)])
def test_at_most_half_the_holes_are_filled_when_bridging(filled: int, told: bool) -> None:
    # AO Surgery Reference, femoral shaft, bridge plating: no more than half of all holes filled (here of 11)
    more = [role(n, "locking-2") for n in (2, 10)][: filled - 4]
    assert ("screw-density" in grave(edited(ulna(), *more))) is told


def test_exactly_half_is_allowed() -> None:
    # AO Surgery Reference, as above: five of ten
    case = edited(ulna(), {"op": "set_plate", "series": "small-3.5", "holes": 10}, role(10, "locking-2"))
    case = edited(case, role(2, "locking-2"))
    assert judged(case).summary.screw_density == 0.5
    assert "screw-density" not in grave(case)


def test_clearance_is_one_screw_diameter_and_spacing_two() -> None:
    # AO Surgery Reference, lag screw fixation (veterinary page)
    assert KNOWLEDGE.thresholds.value("near-fracture", "clearance_diameters") == 1
    assert KNOWLEDGE.thresholds.value("near-fracture", "spacing_diameters") == 2


@pytest.mark.parametrize(("bend_mm", "told"), [(0.9, True), (1.0, False), (2.0, False), (2.1, True)])
def test_transverse_compression_wants_one_to_two_millimetres_of_prebend(bend_mm: float, told: bool) -> None:
    # AO Surgery Reference, application of compression plates to transverse fractures: 1 to 2 mm
    flat = edited(radius(), {"op": "set_obliquity", "obliquity_deg": 5}, role(4, "empty"))
    assert ("prebend" in grave(edited(flat, {"op": "set_prebend", "prebend_mm": bend_mm}))) is told


@pytest.mark.parametrize(("standoff_mm", "told"), [(2.0, False), (2.1, True)])
def test_locked_plate_stands_two_millimetres_off_at_most(standoff_mm: float, told: bool) -> None:
    # AO Surgery Reference, plate preparation (veterinary page)
    case = edited(ulna(), {"op": "set_standoff", "standoff_mm": standoff_mm})
    assert ("stand-off" in grave(case)) is told


@pytest.mark.parametrize("note", [
    "Fell from a ladder, 45° oblique, 8-hole plate", "Shaft of 310 mm, gap 0.5 mm", "Second plate on 3/4 of the shaft",
    "Miss the nerve. Record the torque.", "Case for the conference of the spring",
])  # fmt: skip
def test_plain_clinical_notes_hold_no_identifier(note: str) -> None:
    found = {warning.rule for warning in warnings_of(edited(radius(), {"op": "set_note", "note": note}))}
    assert "privacy" not in found


@pytest.mark.parametrize("note", [
    "DOB 03/04/1951", "date of birth: 3 April 1951", "*1951-04-03", "MRN: 00482133", "hospital no 48213",
    "Patient: Muster", "Surname: Muster", "Mrs Muster", "123-45-6789", "943 476 5919",
])  # fmt: skip
def test_identifiers_are_found_and_not_repeated(note: str) -> None:
    # names, dates of birth and record numbers are among the identifiers of 45 CFR 164.514(b)(2)
    (found,) = [w for w in warnings_of(edited(radius(), {"op": "set_note", "note": note})) if w.rule == "privacy"]
    assert "uster" not in found.message
    assert "1951" not in found.message


def test_a_department_may_ask_for_more_screws() -> None:
    entries = KNOWLEDGE.thresholds.entries
    key = ("screws-per-fragment", "stop_below_screws")
    strict = replace(KNOWLEDGE, thresholds=Thresholds({**entries, key: replace(entries[key], value=3)}))
    stops = [w for w in warnings_of(ulna(), strict) if w.level == "stop"]
    assert [w.subject for w in stops] == [("fragment-proximal",), ("fragment-distal",)]
    for stop in stops:
        assert stop.remedy is not None
        mended = warnings_of(edited(ulna(), stop.remedy.edit), strict)
        assert stop.subject not in [w.subject for w in mended if w.level == "stop"]


def test_no_stop_rests_on_a_figure_that_is_remembered_or_assumed() -> None:
    # our own demand: weak or conflicting ground never stops a plan
    stops = [warning for scene in SCENES for warning in warnings_of(scene.case) if warning.level == "stop"]
    assert stops
    assert not [w for w in stops if w.source.endswith(("(from memory)", "(assumed)"))]
