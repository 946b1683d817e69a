"""Under bridging and protection nothing is compressed along the shaft, whatever roles and bend are drawn.

Source for bridging: AO Surgery Reference, a bridging plate keeps length, rotation and axis. For protection: common
practice, no source: the lag screw presses the line, the plate only shields it.
"""

import re

import pytest

from app.case.models import Bone, Construct, Fracture, FractureLine, Plate, Principle
from app.order import Step, plan
from tests.order.constructs import CATALOGUE, bridged, holes, laid, oblique, protected
from tests.order.test_eccentric_pairs import pair

# what a plan that wants compression says
WANTED = re.compile(
    r"draws the \w+ fragment|draw the fracture together|in turn|sharply over the fracture|drawn to it|axilla|"
    r"against the travel|After the axial compression|now that the fracture is closed|watching the gap"
)
PRINCIPLES: list[Principle] = ["bridging", "protection"]


def under(construct: Construct, principle: Principle) -> Construct:
    return construct.model_copy(update={"principle": principle})


def gapped() -> Construct:
    """One neutral screw next to the line, two eccentric ones opposite, the line in the middle of nine holes."""
    spec = CATALOGUE.bones["humerus"]
    middle = spec.length_mm / 2
    return Construct(
        bone=Bone(name="humerus"),
        fracture=Fracture(lines=(FractureLine(position_mm=middle),), gap_mm=1),
        principle="compression",
        plate=Plate(series="large-narrow-4.5", holes=8, centre_mm=middle, prebend_mm=1.5),
        holes=holes("NNNNEEN2"),
    )


MADE = {"pair": pair(), "one side": gapped(), "oblique": oblique("humerus", 40), "mirrored": oblique("radius", -40)}


@pytest.fixture(params=MADE, ids=str)
def made(request: pytest.FixtureRequest) -> Construct:
    return MADE[request.param]


def told(steps: tuple[Step, ...]) -> str:
    return " ".join(f"{step.what} {step.why} {step.tightness or ''}" for step in steps)


def test_a_plan_that_compresses_says_so(made: Construct) -> None:
    assert WANTED.search(told(plan(laid(made))))


@pytest.mark.parametrize("principle", PRINCIPLES)
def test_nothing_is_said_to_be_wanted_that_compresses(made: Construct, principle: Principle) -> None:
    steps = plan(laid(under(made, principle)))
    found = WANTED.search(told(steps))
    assert found is None, found
    assert {step.kind for step in steps} & {"loosen", "recheck", "tighten"} == set()


@pytest.mark.parametrize("principle", PRINCIPLES)
def test_an_eccentric_screw_is_to_be_made_neutral(made: Construct, principle: Principle) -> None:
    layout = laid(under(made, principle))
    eccentric = {screw.id for screw in layout.screws if screw.role == "eccentric"}
    steps = [step for step in plan(layout) if step.kind == "insert" and step.screw in eccentric]
    assert len(steps) == len(eccentric)
    for step in steps:
        assert "although nothing is to be compressed: make it neutral" in step.what
        assert "not fully tight" not in step.what


@pytest.mark.parametrize("principle", PRINCIPLES)
def test_a_pre_bend_is_to_be_left_out(principle: Principle) -> None:
    (step,) = [step for step in plan(laid(under(pair(), principle))) if step.kind == "prebend"]
    assert step.what == "Leave it unbent: the plan bends it 1.5 mm although nothing is to be compressed."
    assert "presses" in step.why


@pytest.mark.parametrize("principle", PRINCIPLES)
def test_wires_are_not_taken_out_for_a_compression(principle: Principle) -> None:
    steps = plan(laid(under(oblique("humerus", 40), principle)))
    (unwire,) = [step for step in steps if step.kind == "unwire"]
    assert "holds both sides" in unwire.why


@pytest.mark.parametrize("construct", [protected("tibia"), bridged("tibia", conventional=True)], ids=["lag", "bridge"])
def test_plans_with_neutral_screws_only_never_spoke_of_it(construct: Construct) -> None:
    assert WANTED.search(told(plan(laid(construct)))) is None
