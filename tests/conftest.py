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


# The longest files, measured on two cores: begun first, so that no core is left with one at the end.
LONGEST = (
    "tests/surface/test_everything_opens.py",
    "tests/test_assess.py",
    "tests/drawing/test_kept.py",
    "tests/mechanics/test_against_general_frame.py",
    "tests/rules/test_properties.py",
    "tests/geometry/test_layout.py",
    "tests/surface/test_found.py",
    "tests/order/test_samples_and_suggestions.py",
    "tests/test_suggest.py",
    "tests/browser/test_order.py",
    "tests/browser/test_lost_answers.py",
    "tests/browser/test_follow.py",
)
RANK = {name: rank for rank, name in enumerate(LONGEST)}


# Tests that hold something to a clock, or start several servers: what runs beside them would make them late.
SERIAL = (
    "tests/bench/",
    "tests/browser/test_live.py",
    "tests/store/test_changes.py",
    "tests/store/test_previews.py",
    "tests/store/test_writers.py",
    "tests/web/test_events.py",
    "tests/web/test_health.py",
    "tests/web/test_limits.py",
    "tests/web/test_workers.py",
)


def _file(item: pytest.Item) -> str:
    return item.nodeid.partition("::")[0]


def pytest_itemcollected(item: pytest.Item) -> None:
    if _file(item).startswith(SERIAL):
        item.add_marker("serial")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Browser tests last: while their driver runs, no other test can begin an event loop in this thread.

    Files are handed to the cores in this order, so that it holds on each of them.
    """
    items.sort(key=lambda item: (item.get_closest_marker("browser") is not None, RANK.get(_file(item), len(RANK))))
