"""What panels are put together from is kept from edit to edit; it must be what would be made from nothing."""

from dataclasses import replace

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import assess, check_edit
from app.case import Case, apply, parse_edit
from app.single_flight import SingleFlightCache
from app.web.panels import contents
from app.web.panels.redraw import screws_html, setup_html
from app.web.state import ServerState
from tests.surface.extremes import accepted, extreme_cases, extreme_edits
from tests.surface.walk import offers


@pytest.fixture(scope="module")
def server(client: TestClient) -> ServerState:
    assert isinstance(client.app, FastAPI)
    found: ServerState = client.app.state.server
    return found


def panels(server: ServerState, case: Case) -> list[str]:
    assessment = assess(case, server.knowledge, mechanics=False)
    made = []
    for one in assessment.constructs:
        made.append(setup_html(server, assessment, one))
        made.append(screws_html(server, contents.screws_view(assessment, one, server.knowledge)))
    return made


def made_anew(server: ServerState, case: Case) -> list[str]:
    return panels(replace(server, parts=SingleFlightCache(1)), case)


@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_panels_of_kept_parts_are_as_if_made_from_nothing(server: ServerState, data: st.DataObject) -> None:
    server.parts.clear()
    case = data.draw(extreme_cases())
    for _ in range(4):
        case = accepted(case, data.draw(extreme_edits(case))) or case
        assert panels(server, case) == made_anew(server, case)


@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_the_set_up_offers_only_what_is_accepted(server: ServerState, data: st.DataObject) -> None:
    """Each entry, read as a browser sends it, is tried by the very check that an edit goes through."""
    case = data.draw(extreme_cases())
    edits = offers("".join(panels(server, case)))
    assert len(edits) > len(server.knowledge.catalogue.bones)
    for edit in edits:
        check_edit(case, apply(case, parse_edit(edit)), server.knowledge)
