"""What is kept from one drawing to the next: a drawing never shows it, and each of its parts has a line of its own."""

import re
from contextlib import suppress

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import ConstructAssessment, assess, load_knowledge
from app.case import Case, InvalidCase, apply, parse_edit
from app.case.models import Construct
from app.drawing import bone, draw_sketch, draw_state, face_labels, holes, plate, profile
from app.order import states
from tests.drawing.constructs import SOME, assessed, construct, warning
from tests.strategies import cases, edits

EACH = pytest.mark.parametrize("drawn", SOME.values(), ids=SOME.keys())
KNOWLEDGE = load_knowledge()
KEPT = (bone._FACES, holes._HOLES, profile._SCREWS, profile._GRABS, plate._PROFILES, plate._FACES, face_labels._FOUND)


def drawings(one: ConstructAssessment) -> list[str]:
    """The sketch in several ways, and the states of its order; all use the same kept parts."""
    sketches = [
        draw_sketch(one, interactive=interactive, prefix=prefix)
        for interactive in (True, False)
        for prefix in ("", "p-")
    ]
    return [*sketches, *(draw_state(one, state, times=3) for state in states(one.layout)[-2:])]


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(data=st.data(), case=cases())
def test_a_drawing_is_the_same_whatever_was_drawn_before(data: st.DataObject, case: Case) -> None:
    """Edit after edit, each drawn after all that came before; then each once more with nothing kept."""
    seen = [case]
    for _ in range(6):
        with suppress(InvalidCase):
            edited = apply(seen[-1], parse_edit(data.draw(edits(seen[-1]))))
            assess(edited, KNOWLEDGE, mechanics=False, remedies=False)
            seen.append(edited)
    found = [assess(one, KNOWLEDGE, mechanics=False, remedies=False).constructs[0] for one in seen]
    after_others = [drawings(one) for one in found]
    for one, texts in zip(found, after_others, strict=True):
        for kept in KEPT:
            kept.clear()
        assert drawings(one) == texts


ROLES = {2: "eccentric", 4: "neutral"}
PLAIN = construct(roles=ROLES, lines=((-55, 0, 0), (-10, 0, 0)))
HOLE_2_MM = assessed(PLAIN).layout.holes[1].s_mm - PLAIN.plate.centre_mm
NEARER_BEFORE = construct(roles=ROLES, lines=((HOLE_2_MM - 10, 0, 0), (HOLE_2_MM + 15, 0, 0)))
NEARER_BEHIND = construct(roles=ROLES, lines=((HOLE_2_MM - 15, 0, 0), (HOLE_2_MM + 10, 0, 0)))
PAIRS = {
    "a warning": (assessed(PLAIN), assessed(PLAIN, (warning("stop", "h2", "h4"),))),
    "a graver warning": (assessed(PLAIN, (warning("note", "h2"),)), assessed(PLAIN, (warning("stop", "h2"),))),
    "the way an eccentric screw pulls": (assessed(NEARER_BEFORE), assessed(NEARER_BEHIND)),
    "another construct of the case": (assessed(PLAIN), assessed(PLAIN, target=1)),
    "a screw beside a hole": (
        assessed(PLAIN),
        assessed(construct(roles=ROLES, lines=((-55, 0, 0), (-10, 0, 0)), lags=((HOLE_2_MM, 0),))),
    ),
    "another stand-off": (
        assessed(PLAIN),
        assessed(construct(roles=ROLES, lines=((-55, 0, 0), (-10, 0, 0)), standoff_mm=1)),
    ),
}


@pytest.mark.parametrize("pair", PAIRS.values(), ids=PAIRS.keys())
def test_what_makes_two_drawings_differ_is_not_kept(pair: tuple[ConstructAssessment, ConstructAssessment]) -> None:
    for one, other in (pair, pair[::-1]):
        for kept in KEPT:
            kept.clear()
        alone = draw_sketch(other)
        for kept in KEPT:
            kept.clear()
        assert draw_sketch(one) != alone
        assert draw_sketch(other) == alone


@EACH
def test_each_line_is_a_whole_element_or_a_tag(drawn: Construct) -> None:
    """The page compares drawings line by line, and parses only lines that are new."""
    around: list[str] = []
    for line in draw_sketch(assessed(drawn)).split("\n"):
        if line.startswith("</"):
            assert line == f"</{around.pop()}>"
        elif line.endswith("/>") or "</" in line:
            name = re.match(r"<([a-z]+)", line)
            assert name is not None
            assert line.endswith(("/>", f"</{name[1]}>"))
            assert line.count(f"<{name[1]} ") + line.count(f"<{name[1]}>") >= line.count(f"</{name[1]}>")
        else:
            opened = re.fullmatch(r"<([a-z]+)( [^<>]*)?>", line)
            assert opened is not None
            around.append(opened[1])
    assert around == []


def test_a_line_break_in_a_name_does_not_break_the_line() -> None:
    from app.drawing.svg import Element, Lined

    text = Lined("g", {}, [Element("path", {"d": "M0,0", "aria-label": "one\ntwo"})]).tostring()
    assert text == '<g>\n<path d="M0,0" aria-label="one&#10;two"/>\n</g>'
