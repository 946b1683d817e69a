"""A remedy must not cost more than it mends: what else the construct is then told of, at every scene."""

import pytest

from app.rules.registry import LEVELS, Remedy
from tests.rules.judging import edited, placed_warnings
from tests.rules.scenes import SCENES, Scene

EXCHANGES_PLACES = "two-bones"  # its remedy does, so that nothing can be compared place by place


def remedies(scene: Scene) -> list[Remedy]:
    told = [warning for _, warning in placed_warnings(scene.case)]
    return [w.remedy for w in told if w.remedy is not None and w.rule != EXCHANGES_PLACES]


OFFERING = [scene for scene in SCENES if remedies(scene)]


def test_every_scene_that_mends_is_here() -> None:
    assert {scene.name for scene in SCENES if scene.mends and scene.rule != EXCHANGES_PLACES} <= {
        scene.name for scene in OFFERING
    }


@pytest.mark.parametrize("scene", OFFERING, ids=lambda scene: f"{scene.rule}: {scene.name}")
def test_no_remedy_brings_a_stop_or_caution_of_another_rule(scene: Scene) -> None:
    # our own demand; where it stood before, a stop that becomes a caution is no worse
    before = placed_warnings(scene.case)
    grave = {(place, w.rule): LEVELS.index(w.level) for place, w in reversed(before) if w.level != "note"}
    worse = [
        (remedy.label, found)
        for remedy in remedies(scene)
        for where, found in placed_warnings(edited(scene.case, remedy.edit))
        if found.level != "note" and LEVELS.index(found.level) < grave.get((where, found.rule), LEVELS.index("note"))
    ]
    assert worse == []
