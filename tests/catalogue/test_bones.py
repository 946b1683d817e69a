"""Bones against published measurements of adult skeletons."""

import dataclasses
import math

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from app.case.codes import PREFIXES
from app.case.models import BONES, SURFACES, Bone
from app.catalogue import AtRisk, BoneSpec, ProfileRow, default_catalogue, load_thresholds
from app.geometry.facing import facing

CATALOGUE = default_catalogue()
ALL = list(CATALOGUE.bones.values())

# Goldman Osteometric Data Set (Auerbach and Ruff 2004, 2006), own statistics over 1,538 skeletons: mean and standard
# deviation in mm of (men, women) for length, side-to-side and front-to-back diameter at half the length.
GOLDMAN = {
    "humerus": (((314.6, 20.8), (289.1, 16.6)), ((21.1, 2.2), (18.4, 2.0)), ((21.0, 2.1), (18.4, 1.7))),
    "radius": (((242.1, 16.1), (218.9, 13.9)), ((14.9, 1.8), (13.1, 1.4)), ((11.9, 1.1), (10.2, 0.9))),
    "femur": (((438.9, 28.4), (404.1, 23.5)), ((26.6, 2.4), (23.8, 2.0)), ((28.4, 2.5), (25.1, 2.1))),
    "tibia": (((363.5, 25.8), (333.9, 22.5)), ((22.7, 2.0), (19.9, 1.7)), ((27.2, 2.4), (23.6, 2.0))),
}
# Same source: 5 to 95 % band, sexes pooled, of length and of the diameter that is the bone's depth.
BANDS = {
    "humerus": ((270, 343), (16.5, 24.0)),
    "radius": ((202, 265), (9.2, 13.5)),
    "femur": ((377, 479), (21.3, 30.0)),
    "tibia": ((306, 400), (18.0, 25.7)),
}


def midshaft(bone: BoneSpec) -> ProfileRow:
    return next(row for row in bone.profile if row.fraction == 0.5)


def canals(bone: BoneSpec, start: float, end: float) -> list[float]:
    """Canal along the depth, mm, at the profile's rows between two fractions."""
    return [row.depth_mm - 2 * row.cortex_mm for row in bone.profile if start <= row.fraction <= end]


def test_all_seven_bones_are_there_with_their_codes() -> None:
    assert set(CATALOGUE.bones) == set(BONES)
    assert {bone.name: bone.code_prefix for bone in ALL} == PREFIXES


@pytest.mark.parametrize("name", GOLDMAN)
def test_size_lies_within_one_standard_deviation_of_both_sexes(name: str) -> None:
    bone = CATALOGUE.bones[name]
    middle = midshaft(bone)
    crosswise = (middle.depth_mm, middle.width_mm)
    side, front = crosswise[::-1] if bone.depth_axis == "anteroposterior" else crosswise
    for value, sexes in zip((bone.length_mm, side, front), GOLDMAN[name], strict=True):
        for mean, deviation in sexes:
            assert abs(value - mean) <= deviation


@pytest.mark.parametrize("name", BANDS)
def test_allowed_sizes_take_in_nine_adults_of_ten(name: str) -> None:
    bone = CATALOGUE.bones[name]
    for (low, high), (band_low, band_high) in zip(
        (bone.length_range_mm, bone.depth_range_mm), BANDS[name], strict=True
    ):
        assert low < band_low
        assert high > band_high


# Means or mean and standard deviation, mm. Ulna: SA Orthop J 2021;20(3). Clavicle: King 2014 and Bernat. Fibula: the
# lowest and highest of five series (342+-23 Thai, 374.9 South African men).
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("ulna", 259.9 - 19.9, 259.9 + 19.9), ("clavicle", 149.4 - 10.3, 159 + 11), ("fibula", 342, 374.9)],
)
def test_length_of_bones_measured_elsewhere(name: str, low: float, high: float) -> None:
    assert low <= CATALOGUE.bones[name].length_mm <= high


def test_fibula_middle_is_that_of_published_models() -> None:
    # Calculated from four fibulae of the VSD lower-body models (Fischer 2023, Sci Data 10:763).
    middle = midshaft(CATALOGUE.bones["fibula"])
    assert 10.0 <= middle.depth_mm <= 10.9
    assert 13.9 <= middle.width_mm <= 16.4


def test_clavicle_middle_and_ends() -> None:
    bone = CATALOGUE.bones["clavicle"]
    # n 400, X-ray (asn-ng.com 1586279490): men 11.7+-1.5, women 9.9+-1.3.
    assert 11.7 - 1.5 <= midshaft(bone).depth_mm <= 9.9 + 1.3
    # Andermahr 2007 (n 196): wall 2.05+-0.29 in the middle, 1.05+-0.23 sternal, 0.95+-0.35 acromial.
    assert abs(midshaft(bone).cortex_mm - 2.05) <= 0.29
    assert abs(bone.profile[0].cortex_mm - 1.05) <= 0.23
    assert abs(bone.profile[-1].cortex_mm - 0.95) <= 0.35


# Narrowest canal, mm, mean+-standard deviation where published. Humerus PMC7141300; radius and ulna SA Orthop J 2021
# (no deviation for the radius in what was read: the ulna's is taken); femur PMC8589507, men and women; clavicle
# narrowest 6.7+-2.6 (King 2014 and others); tibia 10 to 12 and fibula 3 to 5 from memory.
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("humerus", 10.15 - 1.96, 10.15 + 1.96),
        ("radius", 5.17 - 1.3, 5.17 + 1.3),
        ("ulna", 4.80 - 1.30, 4.80 + 1.30),
        ("femur", 10.77 - 1.53, 9.79 + 1.27),
        ("clavicle", 6.7 - 2.6, 6.7 + 2.6),
        ("tibia", 10, 12),
        ("fibula", 3, 5),
    ],
)
def test_narrowest_canal(name: str, low: float, high: float) -> None:
    assert low <= min(canals(CATALOGUE.bones[name], 0.3, 0.75)) <= high


def test_humerus_wall_and_where_its_canal_is_narrowest() -> None:
    bone = CATALOGUE.bones["humerus"]
    # BioMed Res Int 2021, 6649712, table 1: mean wall 4.35+-1.66 and 4.98+-1.15 mm.
    assert 4.98 - 1.15 <= midshaft(bone).cortex_mm <= 4.35 + 1.66
    # PMC7141300: in the distal third.
    shaft = [row for row in bone.profile if 0.2 <= row.fraction <= 0.8]
    assert min(shaft, key=lambda row: row.depth_mm - 2 * row.cortex_mm).fraction > 0.6


def test_tibia_is_most_circular_and_least_rigid_above_the_ankle() -> None:
    # Capozza 2010, PMC2849524: at 15 % of length from the ankle.
    def second_moment(row: ProfileRow) -> float:
        canal = row.depth_mm - 2 * row.cortex_mm, row.width_mm - 2 * row.cortex_mm
        return math.pi / 64 * (row.depth_mm * row.width_mm**3 - canal[0] * canal[1] ** 3)

    rows = [row for row in CATALOGUE.bones["tibia"].profile if 0.25 <= row.fraction <= 0.97]
    assert min(rows, key=second_moment).fraction == pytest.approx(0.85)
    assert min(rows, key=lambda row: abs(math.log(row.depth_mm / row.width_mm))).fraction == pytest.approx(0.85)


def test_radius_bows_follow_from_their_published_depths() -> None:
    # Sagitta of an arc, R = l^2 / (8 s). Apex dorsal 8 mm, apex radial 13 mm (pubmed 32146042) over 238.43 mm. That
    # length is of SA Orthop J 2021;20(3), which measured the radial arc too: 561.43+-93.49.
    bows = {bow.apex: bow.arcs[0].radius_mm for bow in CATALOGUE.bones["radius"].bows}
    assert bows["posterior"] == pytest.approx(238.43**2 / (8 * 8), rel=0.01)
    assert bows["lateral"] == pytest.approx(561.43, rel=0.01)
    assert abs(bows["lateral"] - 238.43**2 / (8 * 13)) < 93.49


def test_tension_sides_are_those_of_the_sources() -> None:
    words = {(bone.name, surface): one.word for bone in ALL for surface, one in bone.tension.items()}
    assert set(words) == {(name, surface) for name in BONES for surface in SURFACES[name]}
    # Blatter and Weber 1990: lateral is the femur's tension side. AO Surgery Reference, forearm shaft: the ulna's is
    # its subcutaneous face. Wheeless: a lateral plate is a tension band for the fibula, so it lies on the tension side.
    assert words["femur", "lateral"] == words["ulna", "posterior"] == words["fibula", "lateral"] == "tension"
    assert words["ulna", "anterior"] == "compression"
    # nothing was read of these
    for bone in ("humerus", "radius"):
        assert {words[bone, surface] for surface in SURFACES[bone]} == {"not known"}  # type: ignore[index]
    weak = {bone.tension[surface].figure.standing for bone in ALL for surface in bone.tension if bone.name == "tibia"}
    assert weak == {"from memory"}


@pytest.mark.parametrize("bone", ALL, ids=lambda bone: bone.name)
def test_wall_and_canal_stay_positive_in_poor_bone(bone: BoneSpec) -> None:
    # scipy's monotone cubic, the interpolation that the shaft is drawn with, as an independent reference.
    rows = np.array([[row.fraction, row.depth_mm, row.width_mm, row.cortex_mm] for row in bone.profile])
    depth, width, cortex = PchipInterpolator(rows[:, 0], rows[:, 1:])(np.linspace(0, 1, 501)).T
    for quality in CATALOGUE.qualities.values():
        wall = cortex * quality.cortex_factor
        assert wall.min() > 0.5
        assert (np.minimum(depth, width) - 2 * wall).min() > 2
    assert rows[:, 1].min() - 1e-9 <= depth.min()
    assert depth.max() <= rows[:, 1].max() + 1e-9


@pytest.mark.parametrize("bone", ALL, ids=lambda bone: bone.name)
def test_ends_flare_and_their_walls_are_thin(bone: BoneSpec) -> None:
    # Common practice, no source: metaphyses are wider than the shaft and their cortex is thinner.
    middle = midshaft(bone)
    assert 9 <= len(bone.profile) <= 13
    for half in (bone.profile[:4], bone.profile[-4:]):
        assert max(row.depth_mm * row.width_mm for row in half) > 1.3 * middle.depth_mm * middle.width_mm
        assert min(row.cortex_mm for row in half) < 0.6 * middle.cortex_mm


@pytest.mark.parametrize("bone", ALL, ids=lambda bone: bone.name)
def test_sizes_are_accepted_by_the_case_file(bone: BoneSpec) -> None:
    middle = midshaft(bone).depth_mm
    assert bone.length_range_mm[0] < bone.length_mm < bone.length_range_mm[1]
    assert bone.depth_range_mm[0] < middle < bone.depth_range_mm[1]
    for length, depth in zip(bone.length_range_mm, bone.depth_range_mm, strict=True):
        Bone.model_validate({"name": bone.name, "length_mm": length, "midshaft_depth_mm": depth})


def test_published_minima() -> None:
    bones = CATALOGUE.bones
    # AO Surgery Reference, femoral shaft, bridge plating: about 6 holes and 3 to 6 screws in each fragment.
    assert (bones["femur"].minima["bridging"].holes, bones["femur"].minima["bridging"].screws) == (6, 3)
    # AO Surgery Reference, humeral shaft: at least 3 holes to each side; tibial shaft: one next to the fracture and at
    # least 3 more.
    assert bones["humerus"].minima["compression"].holes == 3
    assert bones["tibia"].minima["compression"].holes == 4
    # Wheeless' Textbook of Orthopaedics: forearm 4 to 6 cortices to each side; third-tubular 5 to 6.
    for name in ("radius", "ulna"):
        assert 4 <= bones[name].minima["compression"].cortices <= 6
    assert 5 <= bones["fibula"].minima["compression"].cortices <= 6


@pytest.mark.parametrize("bone", ALL, ids=lambda bone: bone.name)
def test_a_usual_plate_fits_the_shaft_with_the_least_holes(bone: BoneSpec) -> None:
    room = (bone.shaft[1] - bone.shaft[0]) * bone.length_mm
    for minimum in bone.minima.values():
        series = CATALOGUE.series[bone.usual_series[0]]
        holes = next(n for n in series.holes_made if n >= 2 * minimum.holes + 1)
        length = (holes - 2) * series.pitch_mm + series.centre_spacing_mm + 2 * series.end_mm
        assert length < room
        assert minimum.cortices <= 2 * minimum.screws <= 2 * minimum.holes


@pytest.mark.parametrize("bone", ALL, ids=lambda bone: bone.name)
def test_structures_at_risk_lie_along_the_bone(bone: BoneSpec) -> None:
    assert bone.at_risk
    for structure in bone.at_risk:
        assert 0 <= structure.from_mm < structure.to_mm < bone.length_mm


def test_published_distances_of_structures() -> None:
    found = {(bone.name, entry.name): entry for bone in ALL for entry in bone.at_risk}
    # Gerwin (24 arms): the radial nerve lies never within 100 mm of either epicondyle.
    assert found["humerus", "radial nerve, back of the shaft"].from_mm >= 100
    # Diliberti 2000, J Bone Joint Surg Am 82:809: safe to 22 mm supinated; 52.0+-7.8 pronated.
    nerve = found["radius", "posterior interosseous nerve"]
    assert (nerve.end, nerve.from_mm, nerve.to_mm) == ("proximal", 22, pytest.approx(52.0 + 7.8, abs=0.5))
    # Mirza 2010, pubmed 20657259: 20 to 47 mm from the tip of the medial malleolus, the bone's end.
    saphenous = found["tibia", "saphenous nerve and vein"]
    assert (saphenous.end, saphenous.from_mm, saphenous.to_mm) == ("distal", 20, 47)
    # researcher.life 7ec7ee64: artery at 0.449 and plexus at 0.554 of the length from the sternal end.
    artery = found["clavicle", "subclavian artery and brachial plexus"]
    length = CATALOGUE.bones["clavicle"].length_mm
    assert artery.from_mm < 0.449 * length < 0.554 * length <= artery.to_mm


def test_an_ordinary_forearm_plate_needs_no_bending() -> None:
    # Common practice, no source: an 8-hole straight 3.5 plate lies on the middle of the radius unbent.
    series = CATALOGUE.series["small-3.5"]
    (bow,) = facing(CATALOGUE.bones["radius"], "anterior", None).under
    assert (7 * series.pitch_mm) ** 2 / (8 * bow.radius_mm) < load_thresholds().value("contour", "unbent_mm")


@pytest.mark.parametrize(
    ("from_olecranon_mm", "depth_mm", "width_mm", "walls_mm"),
    [(54, 16.8, 16.5, (3.6, 4.25)), (76, 14.1, 15.1, (4.06, 4.13))],
)
def test_proximal_ulna_is_that_of_measured_bones(
    from_olecranon_mm: float, depth_mm: float, width_mm: float, walls_mm: tuple[float, float]
) -> None:
    """Erdem, Int J Morphol (82 dry bones, mean length 250.6 mm; year not shown, abstract read).

    Sizes by caliper, walls from X-ray; the two miss each other by 2 mm front to back, so that a wall is known to 0.6.
    """
    rows = np.array([dataclasses.astuple(row) for row in CATALOGUE.bones["ulna"].profile])
    depth, width, wall = PchipInterpolator(rows[:, 0], rows[:, 1:])(from_olecranon_mm / 250.6)
    assert (depth, width) == pytest.approx((depth_mm, width_mm), abs=1.0)
    assert min(walls_mm) - 0.6 <= wall <= max(walls_mm) + 0.6


def test_least_hold_of_a_compressed_femur() -> None:
    """AO Surgery Reference, femoral shaft 32-A3: three bicortical screws a side, preferably a nine-hole plate."""
    for principle in ("compression", "protection"):
        least = CATALOGUE.bones["femur"].minima[principle]
        assert (least.screws, least.cortices, least.holes) == (3, 6, 4)
        assert (least.figure.standing, least.figure.on) == ("handbook", "humans")


def at_risk(bone: str, name: str) -> AtRisk:
    return next(one for one in CATALOGUE.bones[bone].at_risk if one.name == name)


def test_supraclavicular_nerves_lie_between_the_two_quiet_ends() -> None:
    """Nathe, Tseng, Yoo 2011 (37 cadavers): no branch within 27 mm of the sternal or 19 of the acromial joint."""
    clavicle, nerves = CATALOGUE.bones["clavicle"], at_risk("clavicle", "supraclavicular nerves")
    assert (nerves.end, nerves.from_mm, nerves.to_mm) == ("proximal", 27, clavicle.length_mm - 19)


def test_common_peroneal_nerve_from_its_neck_to_its_deep_branch() -> None:
    """Knee Surg Relat Res 2020 (20.7 +- 1 mm below the head), Ryan 2003 (70 +- 15), Cao Thi 2018 (19 to 38)."""
    nerve = at_risk("fibula", "common peroneal nerve")
    assert nerve.from_mm <= 20.7 - 1
    assert nerve.to_mm >= 70
