"""Bands over HTTP, on the pages and the sheet: what is told is what ``assess`` says, in the figures' own words."""

import json
import re
import time

import pytest

from app.assess import assess, drawn, load_knowledge
from app.case import apply, parse_case, parse_edit
from app.catalogue.unknowns import DRAWS
from app.document import as_document
from app.figures.mechanics import AXIAL, TORSION
from app.samples import load_samples
from tests.cases import humerus
from tests.client import Stored

KNOWLEDGE = load_knowledge()
EMPTY = {"op": "set_role", "target": 0, "hole": 0, "role": "empty"}


def test_the_server_tells_the_bands_that_the_command_line_tells(stored: Stored) -> None:
    told = stored.client.get(f"{stored.path}/bands").json()
    assert told["version"] == 1
    case = parse_case(json.dumps(humerus()))
    document = as_document(assess(case, KNOWLEDGE), lambda one: drawn(one, KNOWLEDGE.catalogue))
    mechanics = document["constructs"][0]["mechanics"]
    band = mechanics["stiffness"]["torsion"]  # type: ignore[typeddict-item]
    low, high = (float(part.replace(",", "")) for part in told["figures"]["torsion"].split(" to "))
    assert (low, high) == pytest.approx((band["low"], band["high"]), rel=5e-3)
    asked = stored.client.post("/api/v1/assess?bands=true", json=humerus()).json()
    assert asked["constructs"][0]["mechanics"] == mechanics
    plain = stored.client.post("/api/v1/assess", json=humerus()).json()
    assert plain["constructs"][0]["mechanics"]["stiffness"]["torsion"] == {**band, "low": None, "high": None}


def test_once_the_process_beside_the_server_is_up_the_server_solves_no_draw(
    stored: Stored, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two dozen solutions would hold up whoever edits meanwhile; what comes back is the same to the last digit."""
    state = stored.client.app.state.server  # type: ignore[attr-defined]
    case = parse_case(json.dumps(humerus()))
    one = assess(case, KNOWLEDGE).constructs[0]
    here = drawn(one, KNOWLEDGE.catalogue)
    stored.client.get(f"{stored.path}/bands")
    patience = time.monotonic() + 60
    while not state.maps.up and time.monotonic() < patience:
        time.sleep(0.05)
    assert state.maps.up
    state.answers.clear()

    def solved_here(_construct: object) -> None:
        raise AssertionError

    monkeypatch.setattr("app.mechanics.bands.solved", solved_here)
    monkeypatch.setattr("app.web.panels.map_desk.solved", solved_here)
    assert state.drawn(one) == here


def test_bands_follow_the_load(stored: Stored) -> None:
    usual = stored.client.get(f"{stored.path}/bands").json()["figures"]
    heavy = stored.client.get(f"{stored.path}/bands?loading=0,full,held,held").json()["figures"]
    assert usual["peak-stress"] != heavy["peak-stress"]
    assert stored.client.get(f"{stored.path}/bands?construct=1").status_code == 404


def test_a_changed_figure_says_in_how_many_draws_it_changed_so(stored: Stored) -> None:
    """Counted here once more, draw by draw, from the models themselves."""
    asked = f"{stored.path}/bands?changed=true"
    assert stored.client.get(asked).json()["changes"] == {}  # there was nothing before
    cases = [parse_case(json.dumps(humerus()))]
    stored.edit(EMPTY)
    cases.append(apply(cases[0], parse_edit(EMPTY)))
    told = stored.client.get(asked).json()["changes"]
    solved = [drawn(assess(case, KNOWLEDGE).constructs[0], KNOWLEDGE.catalogue) for case in cases]
    for figure in (AXIAL, TORSION):
        values = [[figure.read(one) for one in answers] for answers in solved]
        less = sum(new < old for old, new in zip(*values, strict=True))  # type: ignore[operator]
        assert told[figure.id] == ("less in all 23 draws" if less == DRAWS else f"less in {less} of {DRAWS} draws")
    assert set(told) <= set(re.findall(r'data-band="([^"]+)"', stored.client.get(f"/cases/{stored.id}").text))
    assert stored.client.get(f"{stored.path}/bands").json()["changes"] == {}


def test_every_band_told_has_its_place_on_the_page(stored: Stored) -> None:
    page = stored.client.get(f"/cases/{stored.id}").text
    places = set(re.findall(r'data-band="([^"]+)"', page))
    assert set(stored.client.get(f"{stored.path}/bands").json()["figures"]) <= places


def test_a_comparison_says_in_how_many_draws_a_difference_holds(stored: Stored) -> None:
    kept = stored.client.post(f"/api/v1/cases/{stored.id}/whatifs", json={"construct": 0})
    assert kept.status_code == 201, kept.text
    stored.edit({"op": "set_role", "target": 0, "hole": 0, "role": "empty"})
    page = stored.client.get(f"/cases/{stored.id}/compare").text
    rows = re.findall(r'<td class="holds">(?:all|(\d+) of) (\d+)</td>', page)
    assert rows
    assert {of for _, of in rows} == {str(DRAWS)}


def test_the_plan_tells_them_too() -> None:
    from app.sheet.words import mechanics_words

    one = assess(load_samples()[0].case, KNOWLEDGE).constructs[0]
    plain, told = mechanics_words(one), mechanics_words(one, drawn(one, KNOWLEDGE.catalogue))
    assert re.search(r"torsional stiffness [\d.]+\sN·m/° \([\d.]+ to [\d.]+\)", told)
    assert "(" not in re.sub(r"\((protected|Goodman)\)", "", plain)
