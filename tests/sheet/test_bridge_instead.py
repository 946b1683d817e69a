"""Can't compress: the plate that is to bridge instead must be made, fit the bone and be able to bridge."""

import pytest

from app.assess import load_knowledge
from app.case.models import BONES, BoneName, Construct, Plate
from app.catalogue import Catalogue
from app.geometry import plate_length
from app.sheet.bridging import CANNOT_BRIDGE, bridging_plate, longer_plates
from app.sheet.fallback import fallback_rows
from tests.order.constructs import CATALOGUE, holes, laid, transverse

KNOWLEDGE = load_knowledge()


def plated(bone: BoneName, series: str, count: int) -> Construct:
    made = transverse(bone, prebend_mm=0)
    middle = CATALOGUE.bones[bone].length_mm / 2
    return made.model_copy(
        update={
            "plate": Plate(series=series, holes=count, centre_mm=middle),
            "holes": holes("N" + "." * (count - 2) + "N"),
        }
    )


def row(construct: Construct, name: str = "Can’t compress") -> str:
    return dict(fallback_rows(laid(construct), CATALOGUE))[name]


@pytest.mark.parametrize(("bone", "series", "count"), [("clavicle", "mini-2.7", 12), ("humerus", "small-3.5", 14)])
def test_where_no_longer_plate_is_made_another_kind_is_named(bone: BoneName, series: str, count: int) -> None:
    construct = plated(bone, series, count)
    layout = laid(construct)
    assert longer_plates(layout) == ()
    assert "No longer plate of this kind" in row(construct, "Hold too weak")
    found = bridging_plate(layout, CATALOGUE)
    assert found is not None
    assert found.series.key in CATALOGUE.bones[bone].usual_series
    assert found.series.key != series
    assert found.holes in found.series.holes_made
    assert layout.plate_length_mm < plate_length(found.series, found.holes) <= layout.shape.length_mm
    told = row(construct)
    assert "the longer plate" not in told
    assert f"{found.series.label}, {found.holes} holes" in told
    assert f"{found.series.label}, {found.holes} holes" in row(construct, "Have ready")


def test_a_plate_that_cannot_bridge_gives_way_to_one_that_can() -> None:
    # common practice, no source: a one-third tubular plate is too thin to bear a bridged zone
    told = row(plated("fibula", "third-tubular-3.5", 7))
    assert "One-third tubular" not in told
    assert "the longer plate" not in told
    assert "Small-fragment 3.5 compression plate, combination holes" in told
    assert "3.5 mm locking screws" in told
    assert "neutral screws" not in told


FITTING = [
    (bone, series.key, count)
    for bone in BONES
    for series in CATALOGUE.series.values()
    for count in (series.holes_made[0], series.holes_made[-1])
    if plate_length(series, count) <= CATALOGUE.bones[bone].length_mm
]


@pytest.mark.parametrize(("bone", "series", "count"), FITTING)
def test_whatever_is_named_is_usual_on_the_bone_or_the_plate_itself(bone: BoneName, series: str, count: int) -> None:
    layout = laid(plated(bone, series, count))
    found = bridging_plate(layout, CATALOGUE)
    assert found is not None
    assert found.series.hole_kind not in CANNOT_BRIDGE
    assert found.series.key in {series, *CATALOGUE.bones[bone].usual_series}
    assert plate_length(found.series, found.holes) <= layout.shape.length_mm


def test_a_stock_with_nothing_that_bridges_says_so() -> None:
    kept = {"third-tubular-3.5": CATALOGUE.series["third-tubular-3.5"]}
    bare = Catalogue(**{name: getattr(CATALOGUE, name) for name in CATALOGUE.__dataclass_fields__} | {"series": kept})
    layout = laid(plated("fibula", "third-tubular-3.5", 7))
    assert bridging_plate(layout, bare) is None
    assert "none in stock that is usual on this bone" in dict(fallback_rows(layout, bare))["Can’t compress"]


def test_the_longest_plate_that_fits_bridges_itself() -> None:
    construct = plated("radius", "small-3.5", 14)
    assert "with this plate, the longest that fits" in row(construct)


def test_a_longer_one_of_the_same_kind_comes_first() -> None:
    construct = plated("tibia", "large-narrow-4.5", 8)
    found = bridging_plate(laid(construct), CATALOGUE)
    assert found is not None
    assert (found.series.key, found.holes) == ("large-narrow-4.5", 9)
    assert "the longer plate" in row(construct)
