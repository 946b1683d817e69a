"""The map of the samples: each layout as the whole program assesses it alone, and what is told of single changes."""

import csv
import io
import json
import random
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from app.assess import Assessment, assess, load_knowledge
from app.assess import drawn as whole_draws
from app.case import parse_case
from app.case.edits import apply
from app.layout_map.changes import betters, drawn_work, gain, moved, neighbours, single_changes, spared
from app.layout_map.document import map_csv, map_document
from app.layout_map.draws import in_draws
from app.layout_map.shape import map_schema
from app.layout_map.table import AXES, LayoutTable, edge, layout_table, usual_axes
from app.mechanics.layouts.answers import NAMES, Figures, figures_of
from app.mechanics.of_layout import preset_loading
from app.mechanics.sections import Array

SAMPLES = Path(__file__).parents[2] / "sample_cases"
KNOWLEDGE = load_knowledge()
LAYOUTS = 40  # of each; 200 of each were compared when this was written
PAIRS = {"near_strain": "far_strain", "near_motion": "far_motion"}
BOTH = {**PAIRS, **{far: near for near, far in PAIRS.items()}}


def sample(name: str) -> Assessment:
    path = next(SAMPLES.glob(f"{name}*.json"))
    return assess(parse_case(path.read_bytes()), KNOWLEDGE, remedies=False)


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.json")), ids=lambda path: path.stem)
def test_each_layout_is_as_when_it_is_assessed_alone(path: Path) -> None:
    case = parse_case(path.read_bytes())
    stage = {target: preset_loading(one.bone.name, "partial") for target, one in enumerate(case.constructs)}
    assessment = assess(case, KNOWLEDGE, stage, remedies=False)
    for target in range(len(case.constructs)):
        table = layout_table(assessment, target, KNOWLEDGE)
        count = 1 << len(table.found.holes)
        for number in random.Random(7).sample(range(count), min(LAYOUTS, count)):
            edit = table.filling.edit(frozenset(table.found.filled(number)))
            then = case if edit is None else apply(case, edit)
            result = assess(then, KNOWLEDGE, stage, remedies=False).constructs[target].mechanics
            assert result is not None
            assert (result.unstable is None) == bool(table.solved[number]), result.unstable
            alone = figures_of(result)
            for name in NAMES:
                mine, own = float(getattr(table.found.figures, name)[number]), alone[name]
                scale = np.nanmax([abs(own), abs(alone[BOTH.get(name, name)]), 1e-12])
                assert (np.isnan(mine) and np.isnan(own)) or abs(mine - own) <= 1e-9 * scale, (number, name, mine, own)


@pytest.fixture(scope="module")
def femur() -> LayoutTable:
    return layout_table(sample("04-femur"), 0, KNOWLEDGE)


def test_the_present_layout_is_marked(femur: LayoutTable) -> None:
    assert femur.found.filled(femur.now) == (1, 3, 6, 11, 14, 16)
    assert femur.filling.edit(femur.filling.now) is None


FIGURES = ("strain-far", "screw-bending", "pull-out")


@pytest.fixture(scope="module")
def drawn(femur: LayoutTable) -> Array:
    return in_draws(*drawn_work(femur, KNOWLEDGE))


def test_single_changes_are_told_and_the_screw_that_is_missed_least(femur: LayoutTable) -> None:
    changes = single_changes(femur, FIGURES)
    assert [change.hole for change in changes] == list(femur.found.holes)
    least = spared(femur, changes)
    assert least is not None
    assert not least.fills
    others = [change for change in changes if not (change.fills or change.unstable)]
    assert moved(least) == min(map(moved, others))
    assert least.objections == ("screws-per-fragment",)  # three a side are the femur's least, and it says so


def test_single_changes_over_what_is_not_known_are_those_of_the_whole_program(femur: LayoutTable, drawn: Array) -> None:
    """Draw by draw the same as the mechanics panel's bands, which the program works out of a whole construct."""
    assessment = sample("04-femur")
    number, changed = neighbours(femur)[3], drawn[3]
    edit = femur.filling.edit(frozenset(femur.found.filled(number)))
    assert edit is not None
    for row, case in ((drawn[0], assessment.case), (changed, apply(assessment.case, edit))):
        stage = {0: femur.loading}
        (one,) = assess(case, KNOWLEDGE, stage, remedies=False).constructs
        found = [figures_of(result) for result in whole_draws(one, KNOWLEDGE.catalogue)]
        assert row == pytest.approx(np.array([[each[name] for name in NAMES] for each in found]), rel=1e-9, nan_ok=True)


def test_only_what_differs_by_more_than_its_band_is_better(femur: LayoutTable, drawn: Array) -> None:
    """The band is that of the difference, in the same draws with and without: none of them may say otherwise."""
    changes = single_changes(femur, FIGURES, drawn)
    found = betters(femur, changes)
    assert found
    for change in found:
        (row,) = (k for k, one in enumerate(changes, 1) if one is change)
        assert not change.objections
        better = [axis for axis in change.differs if femur.wanted(axis) is not None]
        assert gain(femur, change) == max(-change.shares[axis] for axis in better) > 0.0
        for axis in better:
            read = AXES[axis].read
            assert read is not None
            values = read(Figures(**{name: drawn[:, :, k] for k, name in enumerate(NAMES)}))
            assert (values[row] < values[0]).all()
            assert change.bands[axis].low <= change.shares[axis] <= change.bands[axis].high < 0.0


def test_what_some_draw_turns_round_is_not_better(femur: LayoutTable, drawn: Array) -> None:
    best = betters(femur, single_changes(femur, FIGURES, drawn))[0]
    (row,) = (k for k, number in enumerate(neighbours(femur)) if number == best.number)
    turned = drawn.copy()
    turned[row, 5] = drawn[0, 5] * 1.01  # worse, by a little, in one draw of all
    (again,) = (one for one in single_changes(femur, FIGURES, turned) if one.hole == best.hole)
    assert gain(femur, again) == 0.0
    assert {band.holds for axis, band in again.bands.items() if axis in best.differs} <= {22, 1}
    assert best.hole not in {one.hole for one in betters(femur, single_changes(femur, FIGURES, turned))}


def test_no_screw_that_presses_the_fracture_is_offered_for_leaving_out() -> None:
    table = layout_table(sample("01-humerus"), 0, KNOWLEDGE)
    changes = single_changes(table, ("torsion", "peak-stress"))
    roles = {n: hole.role for n, hole in enumerate(table.filling.judged.construct.holes, 1)}
    assert {roles[change.hole] for change in changes if not change.fills} >= {"lag", "eccentric"}
    least = spared(table, changes)
    assert least is not None
    assert roles[least.hole] == "neutral"
    assert all(change.fills or roles[change.hole] == "neutral" for change in betters(table, changes))


def test_a_figure_that_few_layouts_have_is_not_offered_first(femur: LayoutTable) -> None:
    closed = layout_table(sample("05-tibia"), 0, KNOWLEDGE)
    assert np.isnan(closed.values("strain-far")).all()
    assert usual_axes(closed)[0] == "axial"
    assert usual_axes(femur)[0] == "strain-far"


def test_nothing_betters_the_edge() -> None:
    table = layout_table(sample("01-humerus"), 0, KNOWLEDGE)
    found = edge(table, "torsion", "screws")
    assert len(found) > 1
    torsion, screws = table.values("torsion"), table.values("screws")
    for number in found:
        better = table.passes & (torsion >= torsion[number]) & (screws <= screws[number])
        better &= (torsion > torsion[number]) | (screws < screws[number])
        assert not better.any()


def test_a_bridge_has_no_better_stiffness(femur: LayoutTable) -> None:
    assert femur.wanted("axial") is None
    assert edge(femur, "axial", "screws") == []


def test_the_document_keeps_to_its_schema_and_says_what_is_fixed(femur: LayoutTable) -> None:
    document = json.loads(json.dumps(map_document(femur)))
    schema = map_schema()
    Draft202012Validator.check_schema(schema)
    assert list(Draft202012Validator(schema).iter_errors(document)) == []
    assert "held fixed" in document["fixed"]
    assert len(document["level"]) == 1 << len(document["holes"])
    document["more"] = 1
    assert not Draft202012Validator(schema).is_valid(document)


def test_the_lines_say_the_same(femur: LayoutTable) -> None:
    rows = list(csv.DictReader(io.StringIO(map_csv(femur))))
    assert len(rows) == 1 << len(femur.found.holes)
    now = rows[femur.now]
    assert now["holes"] == "1 3 6 11 14 16"
    assert now["state"] == "solved"
    assert float(now["peak_stress_mpa"]) == pytest.approx(float(femur.values("peak-stress")[femur.now]), rel=1e-3)
    assert rows[0]["state"] == "unstable"
    assert rows[0]["peak_stress_mpa"] == ""
