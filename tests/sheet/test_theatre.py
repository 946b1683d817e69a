"""What the sheet tells for theatre: what is verified, and what to do and have ready if it goes wrong."""

import re
from dataclasses import replace
from itertools import combinations

import pytest

from app.assess import Assessment, assess, load_knowledge
from app.case.models import BONES, BoneName, Construct, LagScrew
from app.geometry import plate_length
from app.order import order_of
from app.order.roles import placed_screws
from app.samples import Sample, load_samples
from app.sheet.bridging import longer_plates
from app.sheet.fallback import fallback_rows, loosened
from app.sheet.sheet import MARGIN_MM
from app.sheet.stripped import rescues, thicker
from app.sheet.theatre import before_rows, check_rows
from tests.order.constructs import (
    CATALOGUE,
    bridged,
    bridged_ulna,
    laid,
    oblique,
    oblique_radius,
    protected,
    segmental,
    transverse,
)
from tests.sheet.pages import assessed, opened, sheet, text_of, words_of

KNOWLEDGE = load_knowledge()
SAMPLES = load_samples()


def told(construct: Construct) -> dict[str, str]:
    return dict(fallback_rows(laid(construct), CATALOGUE))  # type: ignore[arg-type]


@pytest.fixture(scope="module", params=SAMPLES, ids=lambda sample: sample.key)
def sample_sheet(request: pytest.FixtureRequest) -> tuple[Assessment, bytes]:
    sample: Sample = request.param
    assessment = assess(sample.case, KNOWLEDGE)
    return assessment, sheet(assessment)


# --- on paper -----------------------------------------------------------------------------------------------------
def test_every_sample_fits_its_pages(sample_sheet: tuple[Assessment, bytes]) -> None:
    # ISO 216 A4, or the same lying on its side
    for page in opened(sample_sheet[1]):
        width, height = page.width_mm, page.height_mm
        assert {round(width), round(height)} == {210, 297}
        words = words_of(page)
        foot = min(word[1] for word in words if word[4] == "Planning")
        cut = 3.0 if "part" in text_of(page) else 0.5  # at the edges of a part of the drawing a letter may be cut
        for left, top, right, bottom, word in words:
            assert MARGIN_MM - cut <= left <= right <= width - MARGIN_MM + cut, word
            assert top >= MARGIN_MM - 1, word
            assert bottom <= foot + 0.5 or top >= foot - 0.5, word


def test_plan_and_theatre_are_on_one_page_each(sample_sheet: tuple[Assessment, bytes]) -> None:
    assessment, data = sample_sheet
    pages = [text_of(page) for page in opened(data)]
    for title in ("Plan sheet", "Check in theatre", "If it goes wrong"):
        assert len([page for page in pages if title in page]) >= len(assessment.constructs)
    both = [page for page in pages if "Check in theatre" in page]
    assert len(both) == len(assessment.constructs)
    for one in assessment.constructs:
        (page,) = [page for page in both if f"{one.construct.bone.title} " in page.split("Before the first drill")[0]]
        for row in (*before_rows(one), *check_rows(one.layout)):
            assert row in page
        for name, words in fallback_rows(one.layout, CATALOGUE):
            assert name in page
            assert words in page.replace("- ", "-")  # a line may end at a hyphen
        assert "Local protocol and the implants’ maker come first." in page
    # the plan itself runs over no second page: what follows it is its drawing at true size
    for place, page in enumerate(pages):
        assert "Plan sheet" not in page or "True size" in pages[place + 1]


def test_words_in_theatre_do_not_lie_on_each_other(sample_sheet: tuple[Assessment, bytes]) -> None:
    pages = [page for page in opened(sample_sheet[1]) if "Check in theatre" in text_of(page)]
    assert pages
    for page in pages:
        words = words_of(page)
        start = next(word[1] for word in words if word[4] == "theatre")
        for one, other in combinations([word for word in words if word[1] >= start - 0.5], 2):
            across = min(one[2], other[2]) - max(one[0], other[0])
            down = min(one[3], other[3]) - max(one[1], other[1])
            assert across <= 0.2 or down <= 0.35 * min(one[3] - one[1], other[3] - other[1]), (one[4], other[4])


# --- a screw strips -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("series", "rescue"),
    [
        # common practice, no source: a 4.0 mm screw takes hold where a 3.5 one has stripped; 5.0 after 4.5: from memory
        ("small-3.5", "cortex-4.0"),
        ("small-compression-3.5", "cortex-4.0"),
        ("third-tubular-3.5", "cortex-4.0"),
        ("large-narrow-4.5", "cortex-5.0"),
        ("large-broad-4.5", "cortex-5.0"),
        # its hole lets nothing thicker through
        ("mini-2.7", None),
    ],
)
def test_a_thicker_screw_must_fit_the_hole(series: str, rescue: str | None) -> None:
    plate = CATALOGUE.series[series]
    found = thicker(CATALOGUE.screws[plate.cortex_screw], CATALOGUE, plate)
    assert (None if found is None else found.key) == rescue
    for other in CATALOGUE.screws.values():
        passes = found is not None and other.thread_mm >= found.thread_mm and other.thread_mm <= plate.hole_mm
        assert found is None or other.kind != "cortex" or not passes or other.head_mm > plate.hole_mm


def test_rescue_screws_come_in_lengths_made_that_are_long_enough() -> None:
    layout = laid(oblique("humerus", 40))
    (one,) = rescues(layout, CATALOGUE)
    assert one.spec.key == "cortex-5.0"
    assert set(one.lengths_mm) <= set(one.spec.stock_mm)
    planned = {screw.stock_length_mm for screw in layout.screws}
    assert len(one.lengths_mm) <= len(planned)
    for length in planned:
        assert length is not None
        assert any(length <= made <= length + 5 for made in one.lengths_mm)


def test_without_a_thicker_screw_in_stock_none_is_named() -> None:
    thin = {key: spec for key, spec in CATALOGUE.screws.items() if key != "cortex-4.0"}
    layout = laid(transverse("radius").model_copy())
    rows = dict(fallback_rows(layout, replace(CATALOGUE, screws=thin)))  # type: ignore[arg-type]
    assert "4.0 mm" not in rows["A screw strips"] + rows["Have ready"]
    assert "3.5 mm locking screw" in rows["A screw strips"]


def test_a_locking_screw_is_named_only_where_the_hole_takes_it() -> None:
    assert "locking screw" in told(transverse("radius"))["A screw strips"]
    fibula = transverse("fibula")
    plain = fibula.model_copy(update={"plate": fibula.plate.model_copy(update={"series": "third-tubular-3.5"})})
    assert "locking" not in told(plain)["A screw strips"]


def test_free_holes_are_named_by_fragment() -> None:
    # holes 2, 6 and 7 are free, 4 is over the fracture
    assert "proximal hole 2; distal holes 6 and 7" in told(oblique_radius(roles="N.N.E..N"))["A screw strips"]
    full = transverse("radius").model_copy(
        update={"holes": tuple(h.model_copy(update={"role": "neutral"}) for h in transverse("radius").holes)}
    )
    assert "No other hole is free." in told(full)["A screw strips"]


def test_only_what_the_stock_has_is_named() -> None:
    labels = {spec.label for spec in CATALOGUE.screws.values()}
    for bone in BONES:
        for make in (transverse, protected, bridged, segmental):
            words = " ".join(told(make(bone)).values())
            named = set(re.findall(r"\d\.\d mm (?:cortex|locking) screw", words))
            assert named
            assert named <= labels


# --- reduction lost -----------------------------------------------------------------------------------------------
def test_the_side_held_last_is_let_go_and_the_lag_first() -> None:
    # common practice, no source: one side stays on the plate
    text = told(oblique_radius())["Reduction lost"]
    assert "Loosen the lag screw (hole 4), then the distal side, holes 5 and 8" in text
    assert "locking" not in text


def test_of_two_lines_each_lets_go_its_outer_fragment() -> None:
    layout = laid(segmental("tibia"))
    text = told(segmental("tibia"))["Reduction lost"]
    assert "At the proximal line loosen the proximal side" in text
    assert "At the distal line loosen the distal side" in text
    screws = placed_screws(layout)
    sequence = tuple(screws[name] for name in order_of(layout))
    for line, fragment in zip(layout.fracture.lines, (0, 2), strict=True):
        assert {one.fragment for one in loosened(layout, sequence, line)} == {fragment}


def test_locking_screws_are_taken_out_and_put_back_by_hand() -> None:
    # AO Surgery Reference, proximal tibia: a locking screw that is put back is driven with the hand torque limiter
    text = told(bridged_ulna())["Reduction lost"]
    assert "taken out" in text
    assert "by hand with its limiter" in text


# --- longer plate, bridging ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("bone", BONES)
def test_longer_plates_are_made_and_the_bone_has_room_for_them(bone: BoneName) -> None:
    layout = laid(transverse(bone))
    found = longer_plates(layout)
    assert found
    made = [n for n in layout.series.holes_made if n > layout.construct.plate.holes]
    assert [count for count, _ in found] == made[: len(found)]
    for count, length in found:
        assert length == plate_length(layout.series, count) <= layout.shape.length_mm


def test_only_what_is_to_be_pressed_may_have_to_be_bridged_instead() -> None:
    assert "no screw over the zone" in told(transverse("tibia"))["Can’t compress"]
    assert "no screw over the zone" in told(protected("tibia"))["Can’t compress"]
    assert "Can’t compress" not in told(bridged("femur"))


def test_without_screws_nothing_can_go_wrong() -> None:
    empty = oblique_radius(roles="........")
    assert told(empty) == {}
    assert check_rows(laid(empty)) == []
    assert "Check in theatre" in text_of(opened(sheet(assessed(empty)))[1])


# --- before the first drill ---------------------------------------------------------------------------------------
def test_the_first_drill_is_named_with_its_guide() -> None:
    rows = before_rows(assessed(oblique_radius()).constructs[0])
    assert rows[-1] == "First drilled: hole 3 (neutral 2.5)."
    assert any("hole 4 over the fracture" in row for row in rows)
    lag = oblique_radius(roles="N.N.N..N").model_copy(
        update={"principle": "protection", "lag_screws": (LagScrew(position_mm=118, tilt_deg=-20),)}
    )
    assert before_rows(assessed(lag).constructs[0])[-1].startswith("First drilled: the independent lag screw")


def test_nerves_and_vessels_are_named_where_the_warnings_name_them() -> None:
    one = assessed(oblique_radius()).constructs[0]
    assert any("nerves and vessels" in row for row in before_rows(one))
    assert not any("nerves and vessels" in row for row in before_rows(replace(one, warnings=())))
