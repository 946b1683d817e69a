"""Verdicts an experienced surgeon would give at once: implants that fit or don't, wedges, sound plans left in peace."""

from dataclasses import dataclass

import pytest

from app.assess import assess
from app.case import Case, apply
from app.case.codes import patterns_of
from app.case.edits import (
    AddLag,
    SetCode,
    SetPlate,
    SetPrebend,
    SetPrinciple,
    SetQuality,
    SetRole,
    SetSurface,
    SetZone,
)
from app.case.models import BONES, SURFACES, BoneName, Hole, LagScrew, Surface
from app.catalogue.models import PlateSeries
from app.geometry import plate_length
from app.order import derive_order
from app.rules import Warning
from app.rules.implants import overhang_mm
from app.samples import load_samples
from app.suggest import blank_case, pattern_edit, suggestions
from tests.order.constructs import transverse
from tests.rules.judging import KNOWLEDGE, case_of, judged, warnings_of
from tests.rules.scenes import lagged_wedge

SOUND = [sample.case for sample in load_samples()[:10]]


def bare(bone: BoneName, series: str, holes: int | None = None) -> Case:
    """A mid-shaft fracture of this bone under a plate of this series, with nothing in it yet."""
    case = apply(blank_case("Trial", bone, KNOWLEDGE), SetCode(code=None))
    made: PlateSeries = KNOWLEDGE.catalogue.series[series]
    length = KNOWLEDGE.catalogue.bones[bone].length_mm
    count = holes or max(
        n for n in made.holes_made if plate_length(made, n) <= 0.45 * length or n == made.holes_made[0]
    )
    return apply(case, SetPlate(series=series, holes=count))


def fit(case: Case) -> list[Warning]:
    return [warning for warning in warnings_of(case) if warning.rule == "implant-fit"]


@dataclass(frozen=True)
class Misfit:
    """A plate that does not belong on a bone; common practice, the widths by geometry."""

    bone: BoneName
    series: str
    level: str


@pytest.mark.parametrize("one", [
    Misfit("clavicle", "large-broad-4.5", "stop"), Misfit("ulna", "large-narrow-4.5", "stop"),
    Misfit("radius", "large-broad-4.5", "stop"), Misfit("radius", "large-narrow-4.5", "caution"),
    Misfit("femur", "small-3.5", "caution"), Misfit("femur", "third-tubular-3.5", "caution"),
    Misfit("tibia", "mini-2.7", "caution"),
], ids=lambda one: f"{one.series} on a {one.bone}")  # fmt: skip
def test_a_plate_of_another_size_is_warned_of(one: Misfit) -> None:
    # AO Surgery Reference: femur broad 4.5, tibia narrow 4.5; forearm 3.5 (Iacobellis and Biz 2013); the rest by width
    (found,) = fit(bare(one.bone, one.series))
    assert found.level == one.level
    assert found.subject == ("plate",)
    wider = overhang_mm(judged(bare(one.bone, one.series)).layout)[0] > 0.5
    assert wider is (one.level == "stop")


USUAL = [(bone, series) for bone in BONES for series in KNOWLEDGE.catalogue.bones[bone].usual_series]


@pytest.mark.parametrize(("bone", "series"), USUAL)
def test_what_is_usual_on_a_bone_raises_nothing(bone: BoneName, series: str) -> None:
    # common practice, no source; every hole filled with the plate's own cortex screw, then with its locking one
    case = bare(bone, series)
    assert fit(case) == []
    count = case.constructs[0].plate.holes
    for role in KNOWLEDGE.catalogue.series[series].roles()[1::3]:
        full = case
        for hole in range(count):
            full = apply(full, SetRole(hole=hole, role=role))  # type: ignore[arg-type]
        assert fit(full) == []


def test_a_thick_lag_in_a_fibula_is_warned_of() -> None:
    # about 40 % of the bone, from memory; 4.5 mm in a fibula of 10.5 mm is 43 %
    base = bare("fibula", "third-tubular-3.5", 8)
    thick, usual = (
        apply(base, AddLag(value=LagScrew(position_mm=178.0, tilt_deg=-45.0, screw=screw)))
        for screw in ("cortex-4.5", "cortex-3.5")
    )
    (found,) = fit(thick)
    assert (found.level, found.subject) == ("caution", ("s1",))
    assert fit(usual) == []


@pytest.mark.parametrize("place", [178.0, 290.0, 310.0, 325.0])
def test_a_thick_lag_is_warned_of_wherever_it_stands(place: float) -> None:
    # near the ankle the fibula widens, and 4.5 mm are less than 40 % of it: still more than any plate there uses
    base = bare("fibula", "third-tubular-3.5", 8)
    (found,) = fit(apply(base, AddLag(value=LagScrew(position_mm=place, tilt_deg=0.0, screw="cortex-4.5"))))
    assert (found.level, found.subject) == ("caution", ("s1",))


def test_changing_the_principle_takes_the_compression_out() -> None:
    # AO Surgery Reference, ulna: a protection plate is put on without axial compression; a bridge only keeps the length
    zone = apply(case_of(transverse("tibia")), SetZone(zone_mm=40.0))
    found = [w for w in warnings_of(zone) if w.rule == "principle-fit" and w.level == "stop"]
    assert found
    assert found[0].remedy is not None
    after = apply(zone, found[0].remedy.edit).constructs[0]
    assert after.principle == "bridging"
    assert "eccentric" not in {hole.role for hole in after.holes}
    assert after.plate.prebend_mm == 0


def test_steep_lines_are_protected_and_not_compressed() -> None:
    # AO Surgery Reference, humeral shaft 12-A2, long oblique: lag screws, and a plate that neutralises
    case = blank_case("Trial", "tibia", KNOWLEDGE)
    steep = apply(case, pattern_edit(case.constructs[0], 0, "A1", KNOWLEDGE))
    assert {one.principle for one in suggestions(steep, 0, KNOWLEDGE)} == {"protection"}


def test_both_sides_of_a_transverse_radius_are_pulled_first_and_nothing_is_said() -> None:
    # Wheeless' Textbook of Orthopaedics, one-third tubular plate: two eccentric screws next to the line, then the rest
    construct = transverse("radius")
    plate = construct.plate.model_copy(update={"series": "small-3.5", "holes": 6, "prebend_mm": 1.5})
    roles = ("neutral", "neutral", "eccentric", "eccentric", "neutral", "neutral")
    six = construct.model_copy(
        update={"plate": plate, "holes": tuple(Hole(role=role) for role in roles), "order": None}
    )
    case = case_of(six)
    one = assess(case, KNOWLEDGE).constructs[0]
    assert set(derive_order(one.layout)[:2]) == {"h3", "h4"}
    assert [w for w in one.warnings if w.level != "note"] == []
    orders = {"obtuse-first", "check-first-screw", "compress-first", "eccentric-locked", "secure-other-end"}
    assert not {w.rule for w in one.warnings} & (orders | {"friction-slip"})
    flat = assess(apply(case, SetPrebend(prebend_mm=0.0)), KNOWLEDGE).constructs[0]
    assert "friction-slip" not in {w.rule for w in flat.warnings}


def test_a_lagged_wedge_wants_its_main_line_pressed_too() -> None:
    # common practice, no source
    loose = lagged_wedge()
    (found,) = [w for w in warnings_of(loose) if w.rule == "residual-line"]
    assert found.level == "caution"
    assert found.remedy is not None
    lagged = apply(loose, found.remedy.edit)
    compressed = apply(apply(loose, SetRole(hole=5, role="eccentric")), SetPrinciple(principle="compression"))
    bridged = apply(loose, SetPrinciple(principle="bridging"))
    for case in (lagged, compressed, bridged):
        assert "residual-line" not in {w.rule for w in warnings_of(case)}


def sound() -> list[Case]:
    """Forty sound constructs: what is suggested first for a bone and pattern, in normal bone."""
    found = []
    for bone in BONES:
        for pattern in patterns_of(bone):
            case = blank_case("Trial", bone, KNOWLEDGE)
            case = apply(case, pattern_edit(case.constructs[0], 0, pattern, KNOWLEDGE))
            found.append(apply(case, suggestions(case, 0, KNOWLEDGE)[0].edit))
    return found


def told(case: Case) -> list[Warning]:
    judged = assess(case, KNOWLEDGE)
    return [*(w for one in judged.constructs for w in one.warnings), *judged.warnings]


def test_sound_plans_are_left_in_peace() -> None:
    """Our own demand: at most two notes on average, and nothing graver, over ten samples and forty suggestions."""
    plans = SOUND + sound()[:40]
    assert len(plans) >= 45
    notes = [told(case) for case in plans]
    assert [(w.rule, w.message) for found in notes for w in found if w.level != "note"] == []
    bones = sum(len(case.constructs) for case in plans)
    assert sum(len(found) for found in notes) / bones <= 2.0


def test_no_screw_of_the_clavicle_is_longer_than_it_takes() -> None:
    # vein and artery behind the bone (CT series in the bone table): the shortest that reaches, or one just short of it
    layout = judged(SOUND[8]).layout
    assert layout.bone.name == "clavicle"
    for screw in layout.screws:
        assert screw.stock_length_mm is not None
        reaching = min(made for made in screw.spec.stock_mm if made >= screw.length_mm - 1e-9)
        assert screw.stock_length_mm <= reaching
        shorter = [made for made in screw.spec.stock_mm if made < screw.length_mm]
        if screw.stock_length_mm - screw.length_mm > layout.tips.at(screw.tip[0]):
            kept = screw.passages[-1].length_mm - (screw.length_mm - max(shorter))
            assert kept < screw.spec.pitch_mm, f"{screw.id} stands out although a shorter one holds"


def test_poor_bone_is_offered_locking_screws_and_a_longer_plate() -> None:
    # AO Surgery Reference, humerus, ulna, femur: a locking plate in osteoporotic bone
    for bone in ("humerus", "radius", "femur"):
        case = blank_case("Trial", bone, KNOWLEDGE)
        poor = apply(case, SetQuality(bone_quality="poor"))
        first, worse = (suggestions(one, 0, KNOWLEDGE)[0].edit.value for one in (case, poor))
        assert worse.plate.holes > first.plate.holes
        assert sum(hole.role == "locking-2" for hole in worse.holes) >= 4


# Which surface meets which structure: common practice, no source; by the approach that leads there.
MET: list[tuple[BoneName, Surface, set[str], set[str]]] = [
    ("humerus", "posterior", {"back of the shaft", "Axillary"}, {"lateral septum"}),
    ("humerus", "anterolateral", {"lateral septum", "Axillary"}, {"back of the shaft"}),
    ("tibia", "medial", {"Saphenous"}, {"eep peroneal"}),
    ("tibia", "lateral", {"Deep peroneal"}, {"aphenous"}),
    ("fibula", "posterior", {"Common peroneal"}, {"uperficial peroneal"}),
    ("fibula", "lateral", {"Common peroneal", "Superficial peroneal"}, set()),
]


@pytest.mark.parametrize(("bone", "surface", "told", "untold"), MET)
def test_nerves_and_vessels_are_those_of_the_surface(
    bone: BoneName, surface: Surface, told: set[str], untold: set[str]
) -> None:
    case = along_the_whole(bone)
    note = at_risk_note(apply(case, SetSurface(surface=surface)))
    assert note.message.startswith(f"With the plate on the {surface} surface: ")
    assert all(name in note.message for name in told)
    assert not any(name in note.message for name in untold)


@pytest.mark.parametrize("bone", SURFACES)
def test_with_no_surface_said_the_usual_one_is_meant_and_said(bone: BoneName) -> None:
    case = along_the_whole(bone)
    usual = SURFACES[case.constructs[0].bone.name][0]
    said = at_risk_note(apply(case, SetSurface(surface=usual))).message
    words = f"With the plate on the {usual} surface"
    assert said.startswith(f"{words}: ")
    assert at_risk_note(case).message == said.replace(words, f"{words}, the usual one, as none is said")


def along_the_whole(bone: BoneName) -> Case:
    """A plate as long as its series is made and the bone allows: it reaches whatever lies along the shaft."""
    case = blank_case("x", bone, KNOWLEDGE)
    length = KNOWLEDGE.catalogue.bones[bone].length_mm
    plates = [
        (plate_length(series, holes), series.key, holes)
        for series in KNOWLEDGE.catalogue.series.values()
        for holes in series.holes_made
    ]
    _, key, holes = max(plate for plate in plates if plate[0] < length - 10)
    return apply(case, SetPlate(series=key, holes=holes, centre_mm=length / 2))


def at_risk_note(case: Case) -> Warning:
    (note,) = [one for one in assess(case, KNOWLEDGE).constructs[0].warnings if one.rule == "structures-at-risk"]
    return note
