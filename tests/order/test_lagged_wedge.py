"""A lag screw that holds a wedge: it joins the wedge to one main fragment and leaves the main line to be closed.

Common practice, no source read: a wedge is fixed to a main fragment first, so that a simple line is left.
"""

import itertools

import pytest

from app.assess import load_knowledge
from app.case import apply, parse_edit
from app.case.codes import patterns_of
from app.case.models import BONES, Construct, LagScrew
from app.order import derive_order, plan, states
from app.order.roles import placed_screws
from app.rules.lag import LAG_RULES
from app.suggest import blank_case, pattern_edit, suggestions
from app.suggest.layouts import WEDGE_COMPRESSED
from tests.order.constructs import laid, oblique_radius, protected
from tests.order.test_order_rules import case_of, judged, rules

KNOWLEDGE = load_knowledge()
BEARING = [(bone, pattern) for bone in BONES for pattern in patterns_of(bone) if pattern in ("B", "B2")]


def suggested(bone: str, pattern: str, way: str) -> list[Construct]:
    case = blank_case("Trial", bone, KNOWLEDGE)
    case = apply(case, parse_edit(pattern_edit(case.constructs[0], 0, pattern, KNOWLEDGE)))
    made = [one for one in suggestions(case, 0, KNOWLEDGE) if one.label.startswith(f"{way}:")]
    return [apply(case, parse_edit(one.edit)).constructs[0] for one in made]


@pytest.fixture(scope="module", params=BEARING, ids="-".join)
def compressed(request: pytest.FixtureRequest) -> Construct:
    bone, pattern = request.param
    (construct,) = suggested(bone, pattern, WEDGE_COMPRESSED.name)
    return construct


@pytest.fixture(scope="module")
def humerus() -> Construct:
    (construct,) = suggested("humerus", "B2", WEDGE_COMPRESSED.name)
    return construct


def test_the_wedge_is_lagged_before_the_line_is_compressed(compressed: Construct) -> None:
    layout = laid(compressed)
    order = derive_order(layout)
    assert order[0] == "s1"
    kinds = [(step.kind, step.screw) for step in plan(layout)]
    pull = next(screw.id for screw in layout.screws if screw.role == "eccentric")
    # the wedge is held by its own screw by the time the K-wires come out for the compression
    assert kinds.index(("insert", "s1")) < kinds.index(("unwire", None)) < kinds.index(("insert", pull))
    assert rules(compressed) == set()
    assert states(layout)[-1].travel_used_mm == layout.series.travel_mm


def test_it_leaves_length_rotation_and_axis_of_the_main_line_free(compressed: Construct) -> None:
    step = next(step for step in plan(laid(compressed)) if step.screw == "s1")
    assert {step.correctable.length, step.correctable.rotation, step.correctable.axis} == {"yes"}


def test_its_words_name_what_it_joins(humerus: Construct) -> None:
    layout = laid(humerus)
    (lag,) = [screw for screw in layout.screws if screw.role == "lag"]
    main = next(owner for owner in lag.owners if owner != "wedge")
    at = next(i for i, step in enumerate(plan(layout)) if step.screw == "s1")
    assert plan(layout)[at].why == f"Joins the wedge to the {main} fragment, which leaves a simple line."
    assert states(layout)[at].sentence == f"The wedge is held to the {main} fragment."
    # nothing else calls the line closed, or the screw a lag of the line
    told = " ".join(step.why for step in plan(layout))
    assert "axilla" in told
    assert "beside the lag screw" not in told
    assert "hold the faces against the travel" not in told


def test_no_order_with_the_wedge_first_is_punished_for_it(humerus: Construct) -> None:
    ids = [name for name in derive_order(laid(humerus)) if name != "s1"]
    for order in itertools.permutations(ids, 6):
        assert rules(humerus, ("s1", *order)) == rules(humerus, (*order, "s1"))


def test_a_wedge_that_is_caught_last_is_said_to_be_late(humerus: Construct) -> None:
    order = (*(name for name in derive_order(laid(humerus)) if name != "s1"), "s1")
    why = next(step.why for step in plan(laid(humerus), order) if step.screw == "s1")
    assert "wedge" in why
    assert "before the eccentric screw" in why


def test_under_protection_the_wedge_comes_before_the_lag_of_the_main_line() -> None:
    (construct,) = suggested("humerus", "B2", "Protection")
    layout = laid(construct)
    screws = placed_screws(layout)
    lags = [name for name in derive_order(layout) if screws[name].function == "lag"]
    assert [screws[name].catches_wedge for name in lags] == [True, False]
    reasons = {step.screw: step.why for step in plan(layout) if step.kind == "insert"}
    assert "which leaves a simple line" in reasons[lags[0]]
    assert "closes the line" in reasons[lags[1]]
    # whichever number the user gave them
    turned = construct.model_copy(update={"lag_screws": construct.lag_screws[::-1]})
    assert derive_order(laid(turned))[0] == "s2"


def test_a_lag_of_the_main_line_still_blocks() -> None:
    # AO Surgery Reference, application of compression plates to oblique fractures: lag after compression
    assert rules(oblique_radius(), ("h3", "h4", "h5", "h1", "h8")) == {"compress-first"}


def test_a_lag_that_presses_nothing_closes_nothing() -> None:
    # AO Surgery Reference, hand: gliding hole near, thread hole far; with both in one fragment it draws nothing
    aside = protected("humerus")
    middle = aside.fracture.lines[0].position_mm
    aside = aside.model_copy(update={"lag_screws": (LagScrew(position_mm=middle - 60),)})
    assert [found.rule for found in LAG_RULES.judge(judged(case_of(aside))) if found.level == "stop"] == ["lag-valid"]
    step = next(step for step in plan(laid(aside)) if step.screw == "s1")
    assert step.correctable.length == "yes"
    assert "Presses nothing" in step.why
