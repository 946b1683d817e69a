"""Constructs side by side: what differs is marked, and nothing else is."""

from dataclasses import fields, replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.assess import ConstructAssessment, assess, load_knowledge
from app.case import apply, parse_edit
from app.case.models import Case
from app.compare import Column, common_view, compare
from app.drawing import draw_sketch, fitted_view
from app.geometry import FragmentSummary, Summary
from app.mechanics import LoadCase, MechanicsResult, Supports
from app.mechanics.answers import InterfaceAnswer, LineAnswer, Motion, PlateStress, ScrewAnswer, Strain
from app.mechanics.of_layout import Loading, mechanics_of
from tests.drawing.constructs import CATALOGUE, SOME, assessed, construct, parsed, warning
from tests.strategies import cases, constructs

BRIDGED = construct(roles={1: "locking-2", 2: "locking-2", 7: "locking-2", 8: "locking-2"}, lines=((0, 10, 0),))
NEARER = construct(roles={1: "locking-2", 3: "locking-2", 6: "locking-2", 8: "locking-2"}, lines=((0, 10, 0),))


def columns(*ones: ConstructAssessment) -> tuple[Column, ...]:
    return tuple(Column(f"What-if {number}", one) for number, one in enumerate(ones, 1))


def row(comparison, group, name):
    (found,) = [one for one in comparison.rows if (one.group, one.name) == (group, name)]
    return found


def with_mechanics(one, **change):
    contact = InterfaceAnswer(True, False, True, False, False, 250.4, 2.5, 500.0, 12_340.0, 1.5, None)
    result = MechanicsResult(
        unstable=None,
        supports=Supports(),
        load=LoadCase(axial_n=200, bending_nmm=5000),
        axial_stiffness_n_per_mm=1234.4,
        bending_stiffness_plate_tension_nm_per_deg=3.456,
        lines=(LineAnswer(Motion(0.1234, -0.2, 0.05, 0.1, 0), Strain(6.17, None, None), contact),),
        worst_line=0,
        plate=PlateStress((10.0, 20.0), (100.0, 90.0), 100.4, 10.0, 80.0, 0.501, 0.1, 0.25, 380.0, 690.0),
        screws=(ScrewAnswer("h1", 120.0, 0.2, None, 0.7), ScrewAnswer("h8", 90.0, 0.3, None, None)),
    )
    return replace(one, mechanics=replace(result, **change))


def test_what_differs_is_marked_and_the_rest_is_not():
    found = compare(columns(assessed(BRIDGED), assessed(NEARER)))
    assert found.labels == ("What-if 1", "What-if 2")
    span = row(found, "Construct", "Bridging span (working length)")
    assert (span.unit, span.differs, span.best) == ("mm", True, ())
    # Centre to centre of the flanking holes: five pitches and three.
    assert float(span.texts[0]) == pytest.approx(float(span.texts[1]) * 5 / 3, abs=0.2)
    assert not row(found, "Construct", "Plate length").differs
    assert row(found, "Proximal fragment", "Screws").texts == ("2", "2")
    assert row(found, "Proximal fragment", "Spread").differs
    assert row(found, "Hole 2", "Screw").texts == ("locking, bicortical", "–")
    assert row(found, "Hole 3", "Screw").texts == ("–", "locking, bicortical")
    assert set(found.differing) < set(found.rows)


def test_rows_go_from_what_was_chosen_to_what_follows():
    found = compare(columns(assessed(BRIDGED), assessed(SOME["segmental"])))
    groups = list(dict.fromkeys(one.group for one in found.rows))
    assert groups == [
        "Chosen", "Fracture", "Fracture line 1", "Fracture line 2", "Construct", "Contouring",
        "Proximal fragment", "Intermediate fragment", "Distal fragment",
        "Hole 1", "Hole 2", "Hole 7", "Hole 8", "Hole 14", "Warnings",
    ]  # fmt: skip
    assert row(found, "Intermediate fragment", "Screws").texts[0] == "–"
    assert row(found, "Chosen", "Bone").texts == ("radius", "tibia")


def test_every_figure_of_the_summary_and_of_the_mechanics_has_a_row():
    """Each figure, changed alone, shows up in a row: none is left out of the table."""
    one = with_mechanics(assessed(SOME["oblique, lag through the plate"]))
    assert _unseen(one, one.summary, lambda part: replace(one, summary=part), {"fragments"}) == []
    first = one.summary.fragments[0]
    assert _unseen(one, first, lambda part: _first_fragment(one, part), {"name"}) == []
    result = one.mechanics
    left_out = {"supports", "lines", "worst_line", "plate", "screws"}  # worst_line: follows from the lines
    assert _unseen(one, result, lambda part: replace(one, mechanics=part), left_out) == []
    of_the_metal = {"fatigue_mpa", "yield_mpa"}
    curve = {"s_mm", "stress_mpa"}
    assert _unseen(one, result.plate, lambda part: _answer(one, plate=part), curve | of_the_metal) == []
    assert _unseen(one, result.screws[0], lambda part: _answer(one, screws=(part, result.screws[1])), {"id"}) == []
    line = result.lines[0]
    assert _unseen(one, line.motion, lambda part: _answer(one, lines=(replace(line, motion=part),))) == []
    assert _unseen(one, line.strain, lambda part: _answer(one, lines=(replace(line, strain=part),)), {"reason"}) == []
    assert _unseen(one, line.interface, lambda part: _answer(one, lines=(replace(line, interface=part),))) == []
    assert compare(columns(one, _answer(one, supports=Supports("fixed", "ball")))).differing


def _answer(one, **change):
    return replace(one, mechanics=replace(one.mechanics, **change))


def _first_fragment(one, fragment: FragmentSummary):
    summary: Summary = replace(one.summary, fragments=(fragment, *one.summary.fragments[1:]))
    return replace(one, summary=summary)


def _other(value):
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 2000
    if isinstance(value, LoadCase):
        return LoadCase(axial_n=value.axial_n + 100)
    return {None: 7.0, (): (3,)}.get(value, (1, 2) if isinstance(value, tuple) else "other")


def _unseen(one, part, rebuilt, left_out=frozenset()):
    names = [field.name for field in fields(part) if field.name not in left_out]
    assert names
    changed = {name: rebuilt(replace(part, **{name: _other(getattr(part, name))})) for name in names}
    return [name for name, other in changed.items() if not compare(columns(one, other)).differing]


@settings(max_examples=15)
@given(constructs())
def test_a_construct_does_not_differ_from_itself(made):
    one = assessed(made, (warning("stop", "h1"),))
    for ones in ((one, one), (one,) * 4, (with_mechanics(one),) * 2):
        found = compare(columns(*ones))
        assert found.differing == ()
        assert found.warnings == ()
        assert all(one.best == () for one in found.rows)
        assert common_view(columns(*ones)) == fitted_view(one.layout)


@settings(max_examples=12)
@given(st.lists(constructs(), min_size=3, max_size=3), st.permutations(range(3)))
def test_the_order_of_the_columns_only_moves_the_columns(made, order):
    levels = ("stop", "caution", "note")
    ones = [assessed(one, tuple(warning(level) for level in levels[number:])) for number, one in enumerate(made)]
    straight = columns(*ones)
    turned = tuple(straight[index] for index in order)
    first, second = compare(straight), compare(turned)
    assert second.labels == tuple(first.labels[index] for index in order)
    for old, new in zip(first.rows, second.rows, strict=True):
        assert (new.group, new.name, new.unit, new.differs) == (old.group, old.name, old.unit, old.differs)
        assert new.texts == tuple(old.texts[index] for index in order)
        assert {order[index] for index in new.best} == set(old.best)
    for old, new in zip(first.warnings, second.warnings, strict=True):
        assert (new.rule, new.level, new.message) == (old.rule, old.level, old.message)
        assert sorted(order[index] for index in new.columns) == list(old.columns)
    assert common_view(straight) == common_view(turned)


@pytest.mark.parametrize(
    ("group", "name", "better", "worse"),
    [
        ("Plate", "Peak stress ÷ yield strength", {"yield_ratio": 0.2}, {"yield_ratio": 0.4}),
        ("Plate", "Stress swing, of what is borne for long", {"fatigue_ratio": 0.2}, {"fatigue_ratio": 0.4}),
    ],
)
def test_the_better_one_is_named_where_nobody_would_argue(group, name, better, worse):
    one = with_mechanics(assessed(BRIDGED))
    ones = [_answer(one, plate=replace(one.mechanics.plate, **change)) for change in (worse, better, worse, better)]
    assert row(compare(columns(*ones)), group, name).best == (1, 3)


def test_the_worst_screw_decides_which_hold_is_better():
    one = with_mechanics(assessed(BRIDGED))
    first, last = one.mechanics.screws
    other = _answer(one, screws=(replace(first, pull_out_ratio=0.1), replace(last, pull_out_ratio=0.5)))
    found = compare(columns(one, other))
    worst = row(found, "Worst screw", "Most pulled screw, of its pull-out force")
    assert (worst.texts, worst.best) == (("30", "50"), (0,))
    assert row(found, "Hole 1: load", "Pull, of its pull-out force").best == ()  # it bears less, but the other one more


def test_nothing_is_better_under_another_load_on_another_bone_or_beside_an_unstable_one():
    one = with_mechanics(assessed(BRIDGED))
    less = _answer(one, plate=replace(one.mechanics.plate, yield_ratio=0.1))
    lighter = _answer(less, load=LoadCase(axial_n=100))
    humerus = with_mechanics(assessed(SOME["near wedge"]))
    unstable = _answer(one, unstable="unstable: no screw", plate=None, lines=(), screws=())
    assert row(compare(columns(one, less)), "Plate", "Peak stress ÷ yield strength").best == (1,)
    for other in (lighter, humerus, unstable, assessed(BRIDGED)):
        assert all(row.best == () for row in compare(columns(less, other)).rows), other
    found = row(compare(columns(one, unstable)), "Load", "Holds")
    assert found.texts == ("yes", "unstable: no screw")


def test_stiffness_motion_and_strain_are_never_called_better():
    one = with_mechanics(assessed(BRIDGED))
    other = with_mechanics(assessed(BRIDGED), axial_stiffness_n_per_mm=9.0, lines=())
    found = compare(columns(one, other))
    assert row(found, "Stiffness", "Axial").texts == ("1,230", "9")
    assert row(found, "Fracture line 1: motion", "Strain, near cortex").texts == ("6.2", "–")
    assert [one.name for one in found.rows if one.best] == []


def test_a_difference_too_small_to_be_shown_is_none():
    one = with_mechanics(assessed(BRIDGED))
    other = _answer(one, plate=replace(one.mechanics.plate, yield_ratio=0.2504), axial_stiffness_n_per_mm=1233.9)
    assert compare(columns(one, other)).differing == ()
    minus = replace(one.mechanics.lines[0], motion=Motion(-0.0001, 0, 0, 0, 0))
    assert row(
        compare(columns(_answer(one, lines=(minus,)), one)), "Fracture line 1: motion", "Opening, near cortex"
    ).texts == (
        "0.000",
        "0.12",
    )


def test_fewer_stops_are_better_and_warnings_that_differ_are_listed():
    def told(rule, level, message):
        return replace(warning(level), rule=rule, message=message)

    both = told("a", "note", "in both")
    graver = told("a", "stop", "in both")
    ones = [
        assessed(BRIDGED, (graver, both, told("b", "caution", "span 26 mm"))),
        assessed(BRIDGED, (both, told("b", "caution", "span 40 mm"), told("b", "caution", "span 40 mm"))),
        assessed(BRIDGED, (both, told("b", "caution", "span 40 mm"))),
    ]
    found = compare(columns(*ones))
    assert [(one.rule, one.level, one.message, one.columns) for one in found.warnings] == [
        ("a", "stop", "in both", (0,)),
        ("b", "caution", "span 26 mm", (0,)),
        ("b", "caution", "span 40 mm", (1, 2)),
    ]
    assert (row(found, "Warnings", "Stop").texts, row(found, "Warnings", "Stop").best) == (("1", "0", "0"), (1, 2))
    assert row(found, "Warnings", "Caution").texts == ("1", "2", "1")
    assert row(found, "Warnings", "Caution").best == ()


@settings(max_examples=8)
@given(cases())
def test_two_revisions_of_a_case_can_be_compared(case: Case):
    knowledge = load_knowledge()
    moved = apply(case, parse_edit({"op": "set_role", "target": 0, "hole": 0, "role": "empty"}))
    before, after = (assess(one, knowledge).constructs[0] for one in (case, moved))
    found = compare((Column("Before", before), Column("After", after)))
    was = case.constructs[0].holes[0].role
    assert (found.differing != ()) == (was != "empty")
    listed = {(one.level, one.rule, one.message): one.columns for one in found.warnings}
    for index, one in enumerate((before, after)):
        keys = {(told.level, told.rule, told.message) for told in one.warnings}
        assert {key for key, having in listed.items() if index in having} <= keys
        others = {(told.level, told.rule, told.message) for told in (after, before)[index].warnings}
        assert {key for key, having in listed.items() if having == (index,)} == keys - others


def test_one_window_shows_every_construct_on_one_scale():
    ones = [assessed(one) for one in (BRIDGED, SOME["bridged zone"], SOME["segmental"])]
    for some in permutations(ones, 2):
        view = common_view(columns(*some))
        for one in some:
            fitted = fitted_view(one.layout)
            assert view.start_mm <= fitted.start_mm
            assert fitted.end_mm <= view.end_mm
        boxes = [parsed(draw_sketch(one, view=view)).get("viewBox").split() for one in some]
        assert boxes[0][0::2] == boxes[1][0::2]  # left edge and width, mm


def test_answers_as_the_mechanics_gives_them():
    """The longer the plate's free stretch, the softer it bends: standard beam theory, as every handbook has it."""
    made = [
        with_answers(construct(roles=roles, lines=((0, 0, 10),), standoff_mm=1))
        for roles in (dict.fromkeys((1, 4, 5, 8), "locking-2"), dict.fromkeys((1, 2, 7, 8), "locking-2"))
    ]
    found = compare(columns(*made))
    bending = row(found, "Stiffness", "Bending, plate in tension")
    assert float(bending.texts[0]) > float(bending.texts[1]) > 0
    assert row(found, "Load", "Axial").texts == ("50", "50")
    assert row(found, "Hole 4: load", "Bending, of its yield").texts[1] == "–"
    assert float(row(found, "Hole 1: load", "Bending, of its yield").texts[0]) > 0


def with_answers(made):
    one = assessed(made)
    result = mechanics_of(one.layout, CATALOGUE, Loading("chosen", axial_n=50, bending_nm=1, torsion_nm=0.5))
    return replace(one, mechanics=result)


@pytest.mark.parametrize("count", [0, 1, 5])
def test_fewer_than_two_or_more_than_four_are_refused(count):
    with pytest.raises(ValueError, match="2 to 4"):
        compare(columns(*[assessed(BRIDGED)] * count))


def test_a_note_that_one_has_put_away_is_no_difference():
    """The demand is our own: noting a warning does not make another construct."""
    note = replace(warning("note", "plate"), rule="contour", message="Contour it.")
    away = replace(note, acknowledged=True)
    first, second = (assessed(SOME["mini plate"], (one,)) for one in (note, away))
    found = compare(columns(first, second))
    assert (found.differing, found.warnings) == ((), ())
    bare = assessed(SOME["mini plate"])
    assert [one.columns for one in compare(columns(first, bare)).warnings] == [(0,)]
    assert compare(columns(second, bare)).warnings == ()
