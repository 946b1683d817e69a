"""What all tests share: nothing may be skipped where everything was promised to be there."""

import os
from collections.abc import Generator
from pathlib import Path

import pytest
from hypothesis import settings

pytest_plugins = ["tests.postgres"]

# As the program does it, but before any test loads numpy: with a process on each core, further threads of its BLAS took
# ten times as long for the same, since those that wait for work do so at full speed.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

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


# The longest files, browser tests apart (they come last), each with its longest first, so that no core is left with one
# at the end. By the sums of ``pytest -n 2 --durations=0`` on two cores.
LONGEST = (
    "tests/test_proposals.py",
    "tests/surface/test_everything_opens.py",
    "tests/mechanics/test_against_general_frame.py",
    "tests/test_assess.py",
    "tests/sheet/test_plan_sheet.py",
    "tests/store/test_history.py",
    "tests/web/test_workers.py",
    "tests/web/test_openapi.py",
    "tests/web/test_health.py",
    "tests/store/test_writers.py",
    "tests/test_cli.py",
    "tests/rules/test_properties.py",
    "tests/web/test_admission.py",
    "tests/store/test_migrations.py",
    "tests/surface/test_found.py",
    "tests/browser/test_follow.py",
    "tests/browser/test_pages.py",
    "tests/browser/test_typeface.py",
    "tests/browser/test_order.py",
    "tests/browser/test_lost_answers.py",
    "tests/browser/test_sketch.py",
    "tests/browser/test_mechanics.py",
    "tests/browser/test_live.py",
)
RANK = {name: rank for rank, name in enumerate(LONGEST)}


# Files of tests that hold something to a tight clock: what runs beside them would make them late. In the last two only
# some do, which are marked there.
SERIAL = (
    "tests/store/test_changes.py",
    "tests/store/test_previews.py",
    "tests/web/test_events.py",
    "tests/web/test_limits.py",
)
SERIAL_IN_PART = ("tests/browser/test_live.py", "tests/web/test_fair_turns.py", "tests/web/test_workers.py")


def _file(item: pytest.Item) -> str:
    return item.nodeid.partition("::")[0]


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave the other files unread when only those tests are asked for: that takes a fifth of their run's time."""
    only = config.getoption("markexpr") == "serial" and collection_path.suffix == ".py"
    name = collection_path.relative_to(config.rootpath).as_posix() if only else ""
    return True if "/test_" in name and name not in SERIAL + SERIAL_IN_PART else None


def pytest_itemcollected(item: pytest.Item) -> None:
    if _file(item).startswith(SERIAL):
        item.add_marker("serial")
    elif item.get_closest_marker("serial") and not _file(item).startswith(SERIAL_IN_PART):
        message = f"{item.nodeid} is marked serial: name its file in SERIAL_IN_PART, or it will not be run"
        raise pytest.UsageError(message)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Browser tests last: while their driver runs, no other test can begin an event loop in this thread.

    Files are handed to the cores in this order, so that it holds on each of them.
    """
    items.sort(key=lambda item: (item.get_closest_marker("browser") is not None, RANK.get(_file(item), len(RANK))))
