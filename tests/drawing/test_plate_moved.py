"""A plate that has moved stays in one piece: its cut metal lies inside its outline, by shapely's geometry."""

import re
from pathlib import Path

import pytest
from shapely import Polygon

from app.assess import assess, load_knowledge
from app.case.models import Case
from app.drawing import draw_sketch, draw_state
from app.order import states

KNOWLEDGE = load_knowledge()
SAMPLES = sorted((Path(__file__).parents[2] / "sample_cases").glob("*.json"))
ROUNDED_MM = 0.03  # coordinates are written to 0.01 mm


def polygons(data: str) -> list[Polygon]:
    outlines = [re.findall(r"(-?[\d.]+),(-?[\d.]+)", one) for one in data.split("Z") if one]
    return [Polygon([(float(x), float(y)) for x, y in one]) for one in outlines]


def assert_metal_inside(svg: str) -> None:
    plate = re.search(r'<g id="plate".*', svg)
    assert plate is not None
    metal, cut = (re.findall(rf'd="([^"]*)" class="{class_}"', plate[0]) for class_ in ("metal", "edge"))
    (outline,) = polygons(metal[0])
    assert outline.is_valid
    assert polygons(cut[0])
    for piece in polygons(cut[0]):
        assert piece.area > 0
        assert outline.buffer(ROUNDED_MM).covers(piece)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_cut_metal_stays_inside_the_plate_at_every_step(path: Path) -> None:
    for one in assess(Case.model_validate_json(path.read_text(encoding="utf-8")), KNOWLEDGE).constructs:
        assert_metal_inside(draw_sketch(one))
        drawn = [draw_state(one, state, times=times) for state in states(one.layout) for times in (1, 5)]
        with_plate = [svg for svg in drawn if '<g id="plate"' in svg]
        assert with_plate
        for svg in with_plate:
            assert_metal_inside(svg)
