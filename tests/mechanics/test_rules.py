"""Every mechanics rule speaks where it should and is silent where it should be; every remedy that it offers works.

The limits themselves (tissue bands, strengths, pull-out) are checked against their sources where they are kept.
"""

from dataclasses import dataclass, replace

import pytest

from app.case import apply, parse_edit
from app.case.models import Case
from app.mechanics.of_layout import Loading, mechanics_of
from app.rules.mechanical import MECHANICAL_RULES
from app.rules.registry import RuleInput
from app.rules.registry import Warning as Warned
from app.samples import load_samples
from tests.rules.judging import edited, judged, role, tibia, ulna

Load = tuple[float, float, float]


def under(case: Case, load: Load) -> RuleInput:
    """A case judged under axial load N, bending and torsion N·m."""
    one, loading = judged(case), Loading("own", *load)
    return replace(one, loading=loading, mechanics=mechanics_of(one.layout, one.catalogue, loading))


def warnings(case: Case, load: Load) -> list[Warned]:
    return list(MECHANICAL_RULES.judge(under(case, load)))


def flat_tibia() -> Case:
    """Compressed by an eccentric screw, the plate straight: the far cortex stays open (handbook fact)."""
    return edited(tibia(), {"op": "set_prebend", "prebend_mm": 0})


def weak_radius() -> Case:
    """The sample of a transverse radius, compressed, in poor bone, its plate left straight."""
    sample = next(sample.case for sample in load_samples() if sample.key.startswith("02"))
    straight = {"op": "set_prebend", "prebend_mm": 0}
    return edited(sample, straight, {"op": "set_quality", "bone_quality": "poor"})


def crowded_ulna() -> Case:
    """Three locking screws a fragment, the inner one as near to the zone as the pattern of holes lets it."""
    return edited(ulna(), role(4, "locking-2"), role(8, "locking-2"))


def loose_ulna() -> Case:
    return edited(ulna(), role(1, "empty"), role(3, "empty"))


def held_middle() -> Case:
    """The sample of a segmental tibia, bridged, its middle piece held by two screws."""
    return next(sample.case for sample in load_samples() if "segmental" in sample.case.title)


def loose_middle() -> Case:
    """The same with nothing in the middle piece, which may then heal as it lies (common practice, no source)."""
    case = held_middle()
    inner = [hole.number for hole in judged(case).layout.holes if hole.fragment == 1]
    return edited(case, *(role(number, "empty") for number in inner))


@dataclass(frozen=True)
class Scene:
    """``rule`` speaks of ``subject`` at ``level`` under ``load``, and not in the ``quiet`` case and load."""

    rule: str
    level: str
    subject: str
    case: Case
    load: Load
    quiet: tuple[Case, Load]
    mends: bool = False


SCENES = (
    Scene("unstable", "stop", "plate", loose_ulna(), (50, 1, 1), (ulna(), (50, 1, 1))),
    Scene("strain-too-high", "note", "line-0", ulna(), (1000, 20, 10), (ulna(), (50, 1, 1))),
    Scene("strain-too-high", "caution", "line-0", flat_tibia(), (100, -5, 0), (tibia(), (100, -5, 0))),
    Scene("strain-too-low", "note", "line-0", crowded_ulna(), (45, 0.6, 0), (ulna(), (50, 1, 1)), mends=True),
    Scene("unstable", "note", "fragment-intermediate", loose_middle(), (100, 1, 1), (held_middle(), (100, 1, 1))),
    Scene("plate-fatigue", "note", "plate", ulna(), (300, 2, 2), (ulna(), (50, 1, 1))),
    Scene("plate-yield", "note", "plate", ulna(), (1000, 20, 10), (ulna(), (300, 2, 2))),
    Scene("friction-slip", "note", "fragment-distal", flat_tibia(), (3000, 60, 30), (flat_tibia(), (300, 2, 2))),
    Scene("pull-out", "note", "h11", ulna(), (3000, 60, 30), (ulna(), (1000, 20, 10))),
    Scene("opens-under-load", "note", "line-0", tibia(), (100, -5, 0), (tibia(), (100, -1, 0))),
    Scene("opens-under-load", "note", "line-0", weak_radius(), (0, -5, 0), (weak_radius(), (0, -1, 0)), mends=True),
    Scene("opens-under-load", "note", "line-0", flat_tibia(), (100, -30, 0), (flat_tibia(), (100, 5, 0))),
)
NAMES = [f"{scene.rule} {scene.load}" for scene in SCENES]


def found(scene: Scene) -> list[Warned]:
    return [one for one in warnings(scene.case, scene.load) if one.rule == scene.rule]


def test_every_rule_has_a_scene() -> None:
    assert set(MECHANICAL_RULES.rules) == {scene.rule for scene in SCENES}


@pytest.mark.parametrize("scene", SCENES, ids=NAMES)
def test_rule_speaks(scene: Scene) -> None:
    (warning,) = found(scene)
    assert warning.level == scene.level
    assert scene.subject in warning.subject
    assert (warning.remedy is not None) == scene.mends
    assert warning.message.endswith(".")


@pytest.mark.parametrize("scene", SCENES, ids=NAMES)
def test_rule_is_silent(scene: Scene) -> None:
    assert scene.rule not in [warning.rule for warning in warnings(*scene.quiet)]


@pytest.mark.parametrize("scene", [scene for scene in SCENES if scene.mends], ids=lambda scene: scene.rule)
def test_remedy_takes_its_warning_away_and_brings_no_stop(scene: Scene) -> None:
    (warning,) = found(scene)
    assert warning.remedy is not None
    after = warnings(apply(scene.case, parse_edit(warning.remedy.edit)), scene.load)
    assert (warning.rule, warning.subject) not in [(one.rule, one.subject) for one in after]
    assert all(one.level != "stop" for one in after)


def test_unstable_constructs_are_told_why_and_nothing_else() -> None:
    """Statics: a fragment in a plane has three freedoms, and one screw of a cortex leaves it free to turn."""
    (warning,) = warnings(loose_ulna(), (50, 1, 1))
    assert "proximal fragment has no screw" in warning.message


def test_rules_are_silent_without_mechanics() -> None:
    assert list(MECHANICAL_RULES.judge(judged(ulna()))) == []
