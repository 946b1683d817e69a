"""Remedies chain: pressing the first remedy again and again ends clean, or it is said why nothing is offered.

The demand is our own: at most eight steps from a sample with up to three faults put in.
"""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import assess
from app.case import Case, InvalidCase, apply
from app.case.edits import (
    Edit,
    MoveFracture,
    SetGap,
    SetObliquity,
    SetOrder,
    SetPrebend,
    SetPrinciple,
    SetQuality,
    SetRole,
    SetStandoff,
)
from app.case.models import ROLES
from app.rules import LEVELS, Warning
from app.samples import load_samples
from tests.rules.judging import KNOWLEDGE

MOST_STEPS = 8
SAMPLES = tuple(sample.case for sample in load_samples())


@st.composite
def faults(draw: st.DrawFn, case: Case) -> Edit:
    """Something that a tired hand does to a case."""
    target = draw(st.integers(0, len(case.constructs) - 1))
    construct = case.constructs[target]
    hole = draw(st.integers(0, len(construct.holes) - 1))
    line = draw(st.integers(0, len(construct.fracture.lines) - 1))
    now = construct.fracture.lines[line]
    role = st.builds(
        SetRole, target=st.just(target), hole=st.just(hole), role=st.sampled_from(ROLES),
        tilt_deg=st.sampled_from([0.0, 10.0, -20.0]),
    )  # fmt: skip
    turned = st.sampled_from([-now.obliquity_deg, 0.0, 20.0, 45.0, -45.0, 65.0])
    moved = st.floats(-12, 12).map(lambda by: round(now.position_mm + by, 1))
    principles = st.sampled_from(["compression", "protection", "bridging"])
    kinds = [
        role,
        role,
        st.builds(SetObliquity, target=st.just(target), line=st.just(line), obliquity_deg=turned),
        st.builds(MoveFracture, target=st.just(target), line=st.just(line), position_mm=moved),
        st.builds(SetStandoff, target=st.just(target), standoff_mm=st.sampled_from([1.0, 3.0, 6.0])),
        st.builds(SetPrebend, target=st.just(target), prebend_mm=st.sampled_from([0.0, 3.0])),
        st.builds(SetGap, target=st.just(target), gap_mm=st.sampled_from([0.5, 1.5, 3.0])),
        st.builds(SetPrinciple, target=st.just(target), principle=principles),
        st.just(SetQuality(bone_quality="poor")),
    ]
    if construct.screw_ids:
        orders = st.permutations(construct.screw_ids).map(tuple)
        kinds.append(st.builds(SetOrder, target=st.just(target), order=orders))
    return draw(st.one_of(kinds))


@st.composite
def spoilt(draw: st.DrawFn) -> Case:
    """A sample with up to three faults in it."""
    case = draw(st.sampled_from(SAMPLES))
    for _ in range(draw(st.integers(1, 3))):
        try:
            worse = apply(case, draw(faults(case)))
            assess(worse, KNOWLEDGE, mechanics=False)
        except InvalidCase:
            continue  # what can't be made can't be put in
        case = worse
    return case


def grave(case: Case) -> list[Warning]:
    """Stops, then cautions, of all bones and of the case."""
    judged = assess(case, KNOWLEDGE)
    told = [*(w for one in judged.constructs for w in one.warnings), *judged.warnings]
    return sorted((w for w in told if w.level != "note"), key=lambda w: LEVELS.index(w.level))


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
@given(spoilt())
def test_first_remedies_end_clean_or_say_why_not(case: Case) -> None:
    steps: list[tuple[str, str]] = []
    while (first := next((w for w in grave(case) if w.remedy is not None), None)) is not None:
        assert first.remedy is not None
        steps.append((first.rule, first.remedy.label))
        assert len(steps) <= MOST_STEPS, steps
        case = apply(case, first.remedy.edit)
    silent = [(w.rule, w.message) for w in grave(case) if not w.unmended]
    assert silent == [], steps


def test_only_what_offers_no_remedy_says_so() -> None:
    for case in SAMPLES:
        judged = assess(case, KNOWLEDGE)
        for warning in (*(w for one in judged.constructs for w in one.warnings), *judged.warnings):
            assert not (warning.unmended and (warning.remedy is not None or warning.level == "note"))
