"""The rules that count, judged on all layouts at once, against the same rules asked of each layout by itself.

The outside fact here is the rules themselves, which have their own sources and tests; every layout is compared.
"""

import random
from dataclasses import replace
from pathlib import Path

import pytest

from app.assess import Assessment, assess, load_knowledge
from app.case import parse_case
from app.case.edits import SetPrinciple, SetQuality, SetRole, SingleEdit, apply
from app.geometry import lay_out, summarise
from app.layout_map.counting import COUNTED, WEIGHT, Counting
from app.layout_map.filling import Filling, filling
from app.rules import all_rules

SAMPLES = Path(__file__).parents[2] / "sample_cases"
KNOWLEDGE = load_knowledge()


def sample(name: str) -> Assessment:
    path = next(SAMPLES.glob(f"{name}*.json"))
    return assess(parse_case(path.read_bytes()), KNOWLEDGE, mechanics=False, remedies=False)


def alone(filled: Filling, holes: frozenset[int]) -> dict[str, int]:
    """What the rules say of one layout, by rule the gravest level."""
    construct = filled.judged.construct.model_copy(
        update={
            "holes": tuple(
                hole if n in holes else hole.model_copy(update={"role": "empty", "tilt_deg": 0.0})
                for n, hole in enumerate(filled.judged.construct.holes, 1)
            )
        }
    )
    catalogue = KNOWLEDGE.catalogue
    layout = lay_out(construct, filled.judged.case.bone_quality, catalogue, KNOWLEDGE.allowances)
    judged = replace(filled.judged, layout=layout, summary=summarise(layout))
    rules = {rule.id: rule for rule in all_rules()}
    return {
        name: max((WEIGHT[f.level or rules[name].level] for f in rules[name].judge(judged)), default=0)
        for name in COUNTED
    }


def every_hole(role: str, count: int) -> tuple[SetRole, ...]:
    """Screws over the fracture too, which stand in the zone, near a line or across it."""
    return tuple(SetRole(target=0, hole=hole, role=role) for hole in range(count))  # type: ignore[arg-type]


BRIDGING = SetPrinciple(target=0, principle="bridging")
CASES = [
    ("01-humerus", (BRIDGING,)),
    ("02-radius", every_hole("neutral", 6)),
    ("06-ulna", (SetQuality(bone_quality="poor"), *every_hole("locking-2", 8))),
    ("09-clavicle", (*every_hole("locking-1", 7), BRIDGING)),
]


def compared(filled: Filling, numbers: list[int]) -> list[object]:
    """Layouts in which the two differ."""
    levels, wrong = Counting(filled).levels(), []
    for number in numbers:
        holes = frozenset(hole for k, hole in enumerate(filled.holes) if number >> k & 1)
        own = alone(filled, holes)
        mine = {rule: int(levels[rule][number]) for rule in COUNTED}
        if own != mine:
            wrong.append((sorted(holes), own, mine))
    return wrong


@pytest.mark.parametrize(("name", "edits"), CASES)
def test_every_layout_is_judged_as_by_the_rules(name: str, edits: tuple[SingleEdit, ...]) -> None:
    case = sample(name).case
    for edit in edits:
        case = apply(case, edit)
    filled = filling(assess(case, KNOWLEDGE, mechanics=False, remedies=False), 0, KNOWLEDGE)
    assert 6 <= len(filled.holes) <= 10
    assert compared(filled, list(range(1 << len(filled.holes))))[:3] == []


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.json")), ids=lambda path: path.stem)
def test_layouts_of_the_samples_are_judged_as_by_the_rules(path: Path) -> None:
    assessment = assess(parse_case(path.read_bytes()), KNOWLEDGE, mechanics=False, remedies=False)
    for target in range(len(assessment.constructs)):
        filled = filling(assessment, target, KNOWLEDGE)
        numbers = random.Random(target).sample(range(1 << len(filled.holes)), min(100, 1 << len(filled.holes)))
        assert compared(filled, numbers)[:3] == []


def test_each_counted_rule_speaks_somewhere() -> None:
    heard: set[str] = set()
    for name, edits in CASES:
        case = sample(name).case
        for edit in edits:
            case = apply(case, edit)
        filled = filling(assess(case, KNOWLEDGE, mechanics=False, remedies=False), 0, KNOWLEDGE)
        heard |= {rule for rule, level in Counting(filled).levels().items() if level.any()}
    assert heard >= set(COUNTED) - {"over-zone"}
    femur = filling(zoned(), 0, KNOWLEDGE)
    assert Counting(femur).levels()["over-zone"].any()
    assert compared(femur, random.Random(3).sample(range(1 << len(femur.holes)), 100))[:3] == []


def zoned() -> Assessment:
    """The bridged femur with screws over its zone, as many as a map takes."""
    case = sample("04-femur").case
    for edit in every_hole("locking-2", len(case.constructs[0].holes))[:16]:
        case = apply(case, edit)
    return assess(case, KNOWLEDGE, mechanics=False, remedies=False)
