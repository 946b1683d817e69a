"""What the tests of the rules share: judging a case, reading warnings, and the trade's two textbook constructs."""

from typing import Any

from app.assess import Knowledge, load_knowledge
from app.case import apply, parse_edit
from app.case.models import Bone, BoneName, BoneQuality, Case, Construct, Fracture, FractureLine, Hole, Plate, Principle
from app.geometry import check_case, lay_out, summarise
from app.rules.anatomy import ANATOMY_RULES
from app.rules.case_wide import CASE_WIDE_RULES
from app.rules.compression import COMPRESSION_RULES
from app.rules.faces import FACE_RULES
from app.rules.hold import HOLD_RULES
from app.rules.implants import IMPLANT_RULES
from app.rules.lag import LAG_RULES
from app.rules.lengths import LENGTH_RULES
from app.rules.locking import LOCKING_RULES
from app.rules.near import NEAR_RULES
from app.rules.pattern import PATTERN_RULES
from app.rules.registry import Registry, RuleInput
from app.rules.registry import Warning as Warned
from app.rules.spans import SPAN_RULES
from tests.order.constructs import bridged_ulna, holes, oblique_radius, transverse

KNOWLEDGE = load_knowledge()
# the rules that need neither the frame model nor the order of insertion; those have tests of their own
LAYOUT_RULES = Registry.joined(
    IMPLANT_RULES,
    PATTERN_RULES,
    HOLD_RULES,
    SPAN_RULES,
    NEAR_RULES,
    LAG_RULES,
    FACE_RULES,
    COMPRESSION_RULES,
    LOCKING_RULES,
    ANATOMY_RULES,
    LENGTH_RULES,
)


def case_of(*constructs: Construct, quality: BoneQuality = "normal", **fields: Any) -> Case:
    title = fields.pop("title", "Under test")
    return Case(format="fishplate-case/2", title=title, bone_quality=quality, constructs=constructs, **fields)


def edited(case: Case, *edits: dict[str, Any]) -> Case:
    for edit in edits:
        case = apply(case, parse_edit(edit))
    return case


def judged(case: Case, target: int = 0, knowledge: Knowledge = KNOWLEDGE) -> RuleInput:
    layout = lay_out(case.constructs[target], case.bone_quality, knowledge.catalogue, knowledge.allowances)
    return RuleInput(case, target, layout, summarise(layout), knowledge.catalogue, knowledge.thresholds)


def placed_warnings(case: Case, knowledge: Knowledge = KNOWLEDGE) -> list[tuple[int, Warned]]:
    """Warnings of a valid case with the index of their construct, -1 for those on the case as a whole."""
    assert check_case(case, knowledge.catalogue) == ()
    every = [judged(case, target, knowledge) for target in range(len(case.constructs))]
    found = [(one.target, warning) for one in every for warning in LAYOUT_RULES.judge(one)]
    return found + [(-1, warning) for warning in CASE_WIDE_RULES.judge(every[0])]


def warnings_of(case: Case, knowledge: Knowledge = KNOWLEDGE) -> list[Warned]:
    """All warnings of a valid case."""
    return [warning for _, warning in placed_warnings(case, knowledge)]


def told_again(one: Warned, before: Warned) -> bool:
    """The same rule at the same parts with the same level, in whatever words."""
    return (one.rule, one.subject, one.level) == (before.rule, before.subject, before.level)


def role(hole: int, what: str, tilt_deg: float = 0.0) -> dict[str, Any]:
    """The edit that gives hole ``hole`` (from 1) a role."""
    return {"op": "set_role", "hole": hole - 1, "role": what, "tilt_deg": tilt_deg}


def plated(
    bone: BoneName,
    series: str,
    letters: str,
    *lines: FractureLine,
    principle: Principle,
    quality: BoneQuality = "normal",
    centre_mm: float | None = None,
    prebend_mm: float = 0.0,
) -> Case:
    """A bone under a plate of this series, its holes as letters (``.NEL21``); mid-shaft where no centre is given."""
    middle = KNOWLEDGE.catalogue.bones[bone].length_mm / 2
    plate = Plate(
        series=series,
        holes=len(letters),
        centre_mm=middle if centre_mm is None else centre_mm,
        prebend_mm=prebend_mm,
    )
    construct = Construct(
        bone=Bone(name=bone),
        fracture=Fracture(lines=lines or (FractureLine(position_mm=middle),)),
        principle=principle,
        plate=plate,
        holes=holes(letters),
    )
    return case_of(construct, quality=quality)


def radius(obliquity_deg: float = 45.0, quality: BoneQuality = "normal") -> Case:
    """Five screws in an 8-hole small 3.5 plate on an oblique mid-shaft radius, the fracture under the fourth hole."""
    construct = oblique_radius(obliquity_deg=obliquity_deg)
    holes = list(construct.holes)
    holes[3] = Hole(role="lag", tilt_deg=-25.0 if obliquity_deg > 0 else 25.0)
    return case_of(construct.model_copy(update={"holes": tuple(holes)}), quality=quality)


def ulna() -> Case:
    """11-hole small 3.5 plate bridging a multifragmentary mid-shaft ulna, two-cortex locking in 1, 3, 9 and 11."""
    return case_of(bridged_ulna())


def tibia() -> Case:
    """Transverse mid-shaft tibia, compressed by a pre-bent plate."""
    return case_of(transverse("tibia"))
