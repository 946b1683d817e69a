"""Every bone on every surface and side opens everywhere, and says on which surface and side it is."""

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient

from app.assess import load_knowledge
from app.case import apply
from app.case.edits import SetSide, SetSurface
from app.case.models import BONES, SURFACES, BodySide, BoneName, Case, Surface
from app.suggest import blank_case, suggestions
from tests.client import Stored
from tests.surface.walk import walk

KNOWLEDGE = load_knowledge()
ALL = [(bone, surface) for bone in BONES for surface in SURFACES[bone]]


def planned(bone: BoneName, surface: Surface | None, side: BodySide | None) -> Case:
    """A bone's usual fracture under the first suggested layout."""
    case = apply(blank_case("Surfaces", bone, KNOWLEDGE), SetSurface(surface=surface))
    return apply(apply(case, suggestions(case, 0, KNOWLEDGE)[0].edit), SetSide(side=side))


def stored(client: TestClient, case: Case) -> Stored:
    return Stored(client, case.model_dump(mode="json"))


@pytest.mark.parametrize("side", [None, "left", "right"])
@pytest.mark.parametrize(("bone", "surface"), ALL)
def test_every_bone_on_every_surface_and_side_opens_everywhere(
    client: TestClient, bone: BoneName, surface: Surface, side: BodySide | None
) -> None:
    one = stored(client, planned(bone, surface, side))
    assert walk(client, one.id, dear=side == "left", papers=("",)) == []
    plan = unescape(client.get(f"/cases/{one.id}/plan").text)
    assert f"on the {surface} surface" in plan
    assert f"{side or ''} {bone}".strip().capitalize() in plan


@pytest.mark.parametrize("bone", BONES)
def test_layouts_say_which_surface_they_are_made_for(client: TestClient, bone: BoneName) -> None:
    usual = SURFACES[bone][0]
    one = stored(client, planned(bone, None, None))

    def said() -> str:
        html = client.get(f"{one.path}/layouts").json()["html"]
        found = re.search(r'id="layouts-surface">(.*?)<', html)
        assert found is not None
        return found[1]

    assert said() == f"For a plate on the {usual} surface, the usual one, as none is said."
    for surface in SURFACES[bone]:
        assert one.edit({"op": "set_surface", "surface": surface}).status_code == 200
        assert said() == f"For a plate on the {surface} surface."


# Blatter and Weber 1990 (femur); AO Surgery Reference, forearm shaft (ulna); no source was found for the humerus.
@pytest.mark.parametrize(
    ("bone", "surface", "says", "source"),
    [
        ("femur", "lateral", "this surface", "Blatter and Weber 1990"),
        ("ulna", "posterior", "this surface", "AO Surgery Reference, forearm shaft"),
        ("ulna", "anterior", "the opposite surface", "AO Surgery Reference, forearm shaft"),
        ("humerus", "posterior", "not known", "no source was found"),
    ],
)
def test_the_set_up_says_which_is_the_tension_side_and_who_says_so(
    client: TestClient, bone: BoneName, surface: Surface, says: str, source: str
) -> None:
    one = stored(client, planned(bone, surface, None))
    html = client.get(f"/cases/{one.id}").text
    told = re.search(r'id="f-plate-tension">(.*?)</p>', html, re.DOTALL)
    assert told is not None
    assert says in told[1]
    assert source in unescape(told[1])


def test_another_surface_is_drawn_and_judged_anew(client: TestClient) -> None:
    """The radius is 14 mm from side to side and 11 from front to back (Goldman data set): screws get longer."""
    one = stored(client, planned("radius", "anterior", "right"))

    def seen() -> tuple[float, str]:
        assessment = client.post("/api/v1/assess", json=one.get()["case"]).json()["constructs"][0]
        length = next(screw["length_mm"] for screw in assessment["screws"] if screw["role"] == "neutral")
        return length, client.get(f"/cases/{one.id}/drawing.svg").text

    before = seen()
    assert one.edit({"op": "set_surface", "surface": "lateral"}).status_code == 200
    after = seen()
    assert after[0] - before[0] > 2
    assert [re.findall(r">(anterior|posterior|lateral|medial)</text>", svg) for svg in (before[1], after[1])] == [
        ["anterior", "posterior", "medial", "lateral"],
        ["lateral", "medial", "anterior", "posterior"],
    ]
