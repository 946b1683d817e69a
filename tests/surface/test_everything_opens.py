"""Whatever is accepted opens, everywhere: a state machine over all edits at their limits."""

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.surface.machine import Surface


@pytest.fixture(scope="module")
def machine(client: TestClient) -> type[Surface]:
    Surface.client = client
    Surface.dear_every = 3  # typesetting a sheet takes as long as twenty pages, and tests/sheet does nothing else
    return Surface


def test_whatever_is_accepted_opens_everywhere(machine: type[Surface]) -> None:
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=15, stateful_step_count=6, deadline=None, suppress_health_check=list(HealthCheck)
        ),
    )
