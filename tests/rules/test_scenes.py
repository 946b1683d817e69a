"""Every rule speaks where it should and is silent where it should be, and every remedy that it offers works."""

import ast
import inspect
from dataclasses import replace
from pathlib import Path

import pytest

import app.rules
from app.case.models import Case
from app.geometry import check_case
from app.rules.case_wide import CASE_WIDE_RULES
from app.rules.registry import Rule
from app.rules.registry import Warning as Warned
from tests.rules.judging import (
    KNOWLEDGE,
    LAYOUT_RULES,
    edited,
    placed_warnings,
    radius,
    role,
    tibia,
    told_again,
    ulna,
    warnings_of,
)
from tests.rules.scenes import SCENES, Scene

RULES: dict[str, Rule] = LAYOUT_RULES.rules | CASE_WIDE_RULES.rules
TABLE = [
    "implant-fit",
    "pattern-angle",
    "principle-fit",
    "screws-per-fragment",
    "fill-in-poor-bone",
    "screw-density",
    "spread",
    "plate-span",
    "bridging-span",
    "near-fracture",
    "crosses-fracture",
    "over-zone",
    "lag-valid",
    "lag-under-plate",
    "lag-angle",
    "lag-missing",
    "steep-line",
    "lag-over-gap",
    "residual-line",
    "first-screw-side",
    "eccentric-count",
    "prebend",
    "locking-hole",
    "one-cortex",
    "stand-off",
    "contour",
    "mixed-fragment",
    "screw-length",
    "structures-at-risk",
    "joints-to-check",
    "alternatives",
    "two-bones",
    "privacy",
]


def raised(scene: Scene) -> list[Warned]:
    return [
        warning
        for warning in warnings_of(scene.case)
        if (warning.rule, warning.level) == (scene.rule, scene.level) and scene.subject in warning.subject
    ]


def test_all_rules_of_the_table_exist_and_have_a_scene() -> None:
    assert set(RULES) == set(TABLE) == {scene.rule for scene in SCENES}


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: f"{scene.rule}: {scene.name}")
def test_rule_speaks(scene: Scene) -> None:
    found = raised(scene)
    assert found, [(w.rule, w.level, w.subject) for w in warnings_of(scene.case)]
    assert any(warning.remedy is not None for warning in found) == scene.mends


def short_tibia() -> Case:
    """A plate too short to reach any nerve or vessel of the tibia, with nothing in it yet."""
    short = {"op": "set_plate", "series": "large-narrow-4.5", "holes": 4}
    return edited(tibia(), short, *(role(n, "empty") for n in range(1, 5)))


@pytest.mark.parametrize("rule", TABLE)
def test_rule_is_silent_where_it_has_nothing_to_say(rule: str) -> None:
    quiet = (radius(), ulna(), tibia(), short_tibia())
    assert any(rule not in {warning.rule for warning in warnings_of(case)} for case in quiet)


def test_lag_screw_in_a_threaded_round_hole_is_stopped() -> None:
    # a series of the user's own may have round holes that lock; the shipped ones have none
    series = KNOWLEDGE.catalogue.series
    threaded = replace(series["small-3.5"], hole_kind="round")
    catalogue = replace(KNOWLEDGE.catalogue, series={**series, "small-3.5": threaded})
    found = [w for w in warnings_of(radius(), replace(KNOWLEDGE, catalogue=catalogue)) if w.rule == "locking-hole"]
    assert [(w.level, w.subject) for w in found] == [("stop", ("h4",))]
    assert found[0].remedy is not None
    assert edited(radius(), found[0].remedy.edit).constructs[0].holes[3].role == "empty"


@pytest.mark.parametrize("scene", [s for s in SCENES if s.mends], ids=lambda scene: f"{scene.rule}: {scene.name}")
def test_remedy_removes_its_own_warning_and_keeps_the_case_valid(scene: Scene) -> None:
    told = [
        (place, warning)
        for place, warning in placed_warnings(scene.case)
        if (warning.rule, warning.level) == (scene.rule, scene.level) and scene.subject in warning.subject
    ]
    assert told
    for place, warning in told:
        assert warning.remedy is not None
        assert warning.remedy.label
        mended = edited(scene.case, warning.remedy.edit)
        assert check_case(mended, KNOWLEDGE.catalogue) == ()
        after = [found for where, found in placed_warnings(mended) if where == place]
        assert not [found for found in after if told_again(found, warning)]
        same = [found for found in after if (found.rule, found.level) == (warning.rule, warning.level)]
        before = [w for where, w in placed_warnings(scene.case) if where == place]
        assert len(same) < len([w for w in before if (w.rule, w.level) == (warning.rule, warning.level)])


def test_every_rule_that_can_offer_a_remedy_has_a_scene_in_which_it_does() -> None:
    offering = {rule.id for rule in RULES.values() if may_offer(rule)}
    assert offering == {scene.rule for scene in SCENES if scene.mends}


def may_offer(rule: Rule) -> bool:
    """Whether the rule's function reaches, through functions of its own module, one that returns a remedy."""
    tree = ast.parse(Path(inspect.getfile(rule.judge)).read_text(encoding="utf-8"))
    local = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    seen: set[str] = set()
    todo = [rule.judge.__name__]
    while todo:
        name = todo.pop()
        seen.add(name)
        if name in local:
            todo += sorted({node.id for node in ast.walk(local[name]) if isinstance(node, ast.Name)} - seen)
    return any(name in seen for name in REMEDY_MAKERS)


def _returns_remedy(function: ast.FunctionDef) -> bool:
    return function.returns is not None and ast.unparse(function.returns) in ("Remedy", "Remedy | None")


REMEDY_MAKERS = {
    node.name
    for path in Path(app.rules.__path__[0]).glob("*.py")
    for node in ast.parse(path.read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef) and _returns_remedy(node)
}
