"""``python3 -m tests`` itself: both runs of the tests count, and so does what runs beside them."""

from pathlib import Path

import pytest

from tests import __main__ as gate


@pytest.mark.parametrize(
    ("beside", "alone", "worst"),
    [(0, 0, 0), (1, 0, 1), (0, 1, 1), (2, 1, 2), (5, 0, 0), (0, 5, 0), (5, 1, 1), (5, 5, 5)],
)
def test_both_runs_count_and_one_may_find_nothing(
    monkeypatch: pytest.MonkeyPatch, beside: int, alone: int, worst: int
) -> None:
    """5 is what pytest ends with where no test was collected (its documentation, exit codes)."""
    statuses, asked = iter([beside, alone]), []

    def run(*words: str | Path, check: bool) -> int:
        asked.append(words)
        return next(statuses)

    monkeypatch.setattr(gate, "run", run)
    assert gate.run_tests(Path("python"), ["tests/rules"]) == worst
    assert [words[-1] for words in asked] == ["tests/rules", "tests/rules"]
    assert "not serial" in asked[0]
    assert "serial" in asked[1]
    assert "-n" not in asked[1]


def test_what_runs_beside_them_is_shown_whole_and_counts(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = {"lint": (0, "fine\n"), "types": (3, "one\ntwo\n")}
    monkeypatch.setattr(gate, "run_tests", lambda *_: 0)
    monkeypatch.setattr(gate, "quietly", lambda name: said[name])
    assert gate.worst_of([["lint"], ["types"]], Path("python"), []) == 3
    assert capsys.readouterr().out == "fine\none\ntwo\n"


def test_a_check_that_cannot_be_started_fails() -> None:
    command, status, told = gate.whole(["no-such-program-here"])
    assert (command, status) == (["no-such-program-here"], 127)
    assert "no-such-program-here can't be started" in told
