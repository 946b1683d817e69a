"""How far handles go. The demand is our own: as far as the same edit by itself is accepted, and not a step less."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.assess import assess, load_knowledge
from app.case import Case, InvalidCase
from app.case.edits import Edit, MoveFracture, SetObliquity, SetPrinciple, SetZone
from app.geometry import ranges
from app.samples import Sample, load_samples
from app.suggest import Reach, accepted, stop_of
from tests.strategies import cases

KNOWLEDGE = load_knowledge()
SAMPLES = load_samples()


def made(kind: int, figure: float) -> Edit:
    if kind == 0:
        return MoveFracture(target=0, line=0, position_mm=figure)
    if kind == 1:
        return SetObliquity(target=0, line=0, obliquity_deg=figure)
    return SetZone(target=0, line=0, zone_mm=figure)


@given(case=cases(), kind=st.sampled_from([0, 1, 2]), part=st.floats(0, 1))
def test_an_edit_goes_as_far_as_it_can(case: Case, kind: int, part: float) -> None:
    line = case.constructs[0].fracture.lines[0]
    start = (line.position_mm, line.obliquity_deg, line.zone_mm)[kind]
    low, high = ((0, 500), (-75, 75), (0, 250))[kind]
    aim = round(low + (high - low) * part, 1)
    reach = Reach(("position_mm", "obliquity_deg", "zone_mm")[kind], start)
    stop = stop_of(case, made(kind, aim), reach, KNOWLEDGE)
    way = 1 if aim > start else -1
    if stop is None:
        assert accepted(case, made(kind, aim), KNOWLEDGE)
        return
    assert not accepted(case, made(kind, aim), KNOWLEDGE)
    assert stop.edit == made(kind, stop.figure)
    assert accepted(case, stop.edit, KNOWLEDGE)
    assert 0 <= (stop.figure - start) * way <= (aim - start) * way
    next_whole = stop.figure // 1 + 1 if way > 0 else -(-stop.figure // 1) - 1
    assert (aim - next_whole) * way < 0 or not accepted(case, made(kind, next_whole), KNOWLEDGE)
    assert stop.why


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.key)
@pytest.mark.parametrize("way", [-1, 1])
def test_the_ends_are_reached_with_the_first_line_of_every_sample(sample: Sample, way: int) -> None:
    """A line near the end of a bone is longer, as the bone is wider there: no range told beforehand holds."""
    one = assess(sample.case, KNOWLEDGE, mechanics=False).constructs[0]
    far = 0.0 if way < 0 else one.layout.shape.length_mm
    start = sample.case.constructs[0].fracture.lines[0].position_mm
    stop = stop_of(sample.case, made(0, far), Reach("position_mm", start), KNOWLEDGE)
    assert stop is not None
    assert accepted(sample.case, stop.edit, KNOWLEDGE)
    assert not accepted(sample.case, made(0, stop.figure + way), KNOWLEDGE)


@given(case=cases())
def test_what_a_handle_is_told_to_reach_can_be_made(case: Case) -> None:
    """Both ends of the first line's range; with one line, a hundredth of a millimetre or two further can't."""
    one = assess(case, KNOWLEDGE, mechanics=False).constructs[0]
    room = ranges(one.construct, one.layout.shape, one.layout.series).lines[0]
    for end, way in zip(room, (-1, 1), strict=True):
        assert accepted(case, made(0, end), KNOWLEDGE)
        if len(one.construct.fracture.lines) == 1:
            assert not accepted(case, made(0, end + 0.02 * way), KNOWLEDGE)


def test_a_field_that_is_none_is_refused() -> None:
    case = SAMPLES[0].case
    for field in ("principle", "op", "bone.length_mm"):
        with pytest.raises(InvalidCase):
            stop_of(case, made(0, 0.0), Reach(field, 0), KNOWLEDGE)
    assert stop_of(case, SetPrinciple(target=0, principle="bridging"), Reach("position_mm", 0), KNOWLEDGE) is None
