"""The bending template, measured on the paper: as long as the plate, and bent as the assessment lists it."""

from typing import Any

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from app.assess import Assessment
from app.case.models import Construct
from app.document import as_document
from app.sheet import Paper
from tests.order.constructs import bridged_ulna, oblique, oblique_radius, transverse
from tests.papers import Leaf
from tests.sheet.pages import assessed, crowded, opened, sheet, text_of, words_of

Line = list[tuple[float, float]]
CASES = [oblique_radius(), transverse("radius"), oblique("humerus", 40), oblique("tibia", 30)]


def true_pages(assessment: Assessment, paper: Paper = "a4") -> list[Leaf]:
    return [page for page in opened(sheet(assessment, paper=paper)) if "True size" in text_of(page)]


def document(assessment: Assessment) -> Any:
    return as_document(assessment)["constructs"][0]


def templates(page: Leaf, holes: int) -> list[Line]:
    """The long lines below the template's words with a corner at both ends, at each hole, and between each two."""
    (top,) = [word[3] for word in words_of(page) if word[4] == "template:"]
    long = [line for line in page.lines if len(line) >= 2 * holes + 1 and line[-1][0] - line[0][0] > 30]
    return [line for line in long if min(y for _, y in line) > top]


def turns(line: Line) -> "np.typing.NDArray[np.float64]":
    """By how much it turns at each corner, upwards positive (degrees)."""
    steps = np.diff(np.array(line), axis=0)
    return np.diff(np.degrees(np.arctan2(-steps[:, 1], steps[:, 0])))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("construct", CASES, ids=lambda one: f"{one.bone.name} {one.plate.series}")
def test_the_printed_line_is_as_long_as_the_plate_and_bent_as_listed(construct: Construct, paper: Paper) -> None:
    assessment = assessed(construct)
    told, places = document(assessment), assessment.constructs[0].layout.holes
    (page,) = true_pages(assessment, paper)
    line = templates(page, len(places))[0]
    assert LineString(line).length == pytest.approx(told["plate_length_mm"], abs=0.1)
    # corners: end, hole, bend, hole, bend … hole, end
    holes, bends = line[1:-1:2], line[2:-2:2]
    assert len(holes) == len(places)
    path = LineString(line)
    apart = path.project(Point(holes[-1])) - path.project(Point(holes[0]))
    assert apart == pytest.approx(places[-1].s_mm - places[0].s_mm, abs=0.1)
    found = turns(line)
    listed = [bend["angle_deg"] for bend in told["contour"]["bends"]]
    # an end is written to 0.01 mm, over pieces of 4.5 mm and more
    assert list(found[1::2]) == pytest.approx(listed, abs=0.35)
    assert list(found[::2]) == pytest.approx([0] * len(places), abs=0.35)
    assert sum(found) == pytest.approx(told["contour"]["turn_deg"], abs=0.35)
    assert len(bends) == len(listed)


def test_numbers_and_angles_stand_at_their_places() -> None:
    assessment = assessed(oblique("humerus", 40))
    told, places = document(assessment), assessment.constructs[0].layout.holes
    (page,) = true_pages(assessment)
    (line,) = templates(page, len(places))
    top, bottom = min(y for _, y in line) - 7, max(y for _, y in line) + 7
    words = [word for word in words_of(page) if top < word[1] and word[3] < bottom]
    for place, (x, _) in zip(places, line[1:-1:2], strict=True):
        assert any(word[4] == str(place.number) and _middle(word) == pytest.approx(x, abs=0.5) for word in words)
    seen = [(bend, x) for bend, (x, _) in zip(told["contour"]["bends"], line[2:-2:2], strict=True)]
    said = [(bend, x) for bend, x in seen if abs(bend["angle_deg"]) >= 0.5]
    assert said
    for bend, x in said:
        text = f"{abs(bend['angle_deg']):.1f}°"
        assert any(word[4] == text and _middle(word) == pytest.approx(x, abs=0.5) for word in words), (bend, words)


def _middle(word: tuple[float, float, float, float, str]) -> float:
    return (word[0] + word[2]) / 2


def test_the_prebend_has_a_line_of_its_own_bent_the_other_way() -> None:
    assessment = assessed(transverse("radius"))
    told, places = document(assessment), assessment.constructs[0].layout.holes
    (prebend,) = told["contour"]["prebends"]
    (page,) = true_pages(assessment)
    flat, bent = templates(page, len(places))
    assert sum(turns(bent)) - sum(turns(flat)) == pytest.approx(prebend["angle_deg"], abs=0.35)
    assert f"pre-bend {abs(prebend['angle_deg']):.1f}°" in text_of(page)
    assert "Lower line" in text_of(page)


def test_without_bending_there_is_no_template() -> None:
    for construct in (bridged_ulna(), oblique("humerus", 40)):
        assessment = assessed(construct)
        kinds = {step["kind"] for step in document(assessment)["order"]}
        pages = true_pages(assessment)
        assert any("Bending template" in text_of(page) for page in pages) == bool(kinds & {"contour", "prebend"})


def test_a_long_one_is_cut_at_the_same_places_as_the_drawing() -> None:
    pages = true_pages(crowded())
    assert len(pages) == 2
    assert all("Bending template" in text_of(page) for page in pages)
    lengths = []
    for page in pages:
        (line,) = templates(page, 14)[:1]
        lengths.append(LineString(line).length)
    plate = document(crowded())["plate_length_mm"]
    assert lengths == pytest.approx([plate, plate], abs=0.1)  # each page clips the same line
