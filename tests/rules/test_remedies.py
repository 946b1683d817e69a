"""A remedy must not cost more than it mends: what else the construct is then told of, at every scene."""

import pytest

from app.rules.registry import LEVELS
from tests.rules.judging import edited, placed_warnings
from tests.rules.scenes import SCENES, Scene


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: f"{scene.rule}: {scene.name}")
def test_no_remedy_brings_a_stop_or_caution_of_another_rule(scene: Scene) -> None:
    # our own demand; where it stood before, a stop that becomes a caution is no worse
    before = placed_warnings(scene.case)
    grave = {(place, w.rule): LEVELS.index(w.level) for place, w in reversed(before) if w.level != "note"}
    for _, warning in before:
        if warning.remedy is None or warning.rule == "two-bones":  # which exchanges the places
            continue
        for where, found in placed_warnings(edited(scene.case, warning.remedy.edit)):
            told = LEVELS.index(found.level)
            assert found.level == "note" or told >= grave.get((where, found.rule), 2), (warning.remedy.label, found)
