"""What all tests share: nothing may be skipped where everything was promised to be there."""

import os
from collections.abc import Generator

import pytest
from hypothesis import settings

pytest_plugins = ["tests.postgres"]

REQUIRE_ALL = bool(os.environ.get("CI") or os.environ.get("FISHPLATE_REQUIRE_ALL"))

# The same examples on every run of the gate, so that it stays green or red for one reason only; fresh ones otherwise.
settings.register_profile("gate", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None)
settings.load_profile("gate" if REQUIRE_ALL else "explore")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Turn a skip into a failure when the run promised a browser and a database server."""
    report = yield
    if REQUIRE_ALL and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, but this run must leave nothing out: {report.longrepr}"
    return report


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Browser tests last: while their driver runs, no other test can begin an event loop in this thread."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)
