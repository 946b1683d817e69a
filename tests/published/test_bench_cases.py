"""Published bench tests beside the model. Sources and what they leave out stand in the record itself.

A miss is recorded as a miss: these tests hold the verdicts still, they do not ask for hits. Only the qualitative
findings that
need no missing input (cases 3 to 6) must come out, with the exceptions named here.
"""

from __future__ import annotations

import math

import pytest

from app.mechanics.validation.bench_cases import BENCH_CASES
from app.mechanics.validation.bench_runs import BenchRow, run_bench_cases

VERDICTS = {
    "near-cortex closing at 150 N": "inside",
    "axial stiffness": "inside",
    "bending rigidity": "inside",
    "torsional rigidity": "outside",
    "bending stiffness, largest ÷ smallest over stand-off 1-3 mm": "trend holds",
    "bending stiffness, next longer ÷ shorter working length": "trend holds",
    "axial stiffness, unicortical ÷ bicortical locking": "trend holds",
    "axial stiffness, non-locked on the bone ÷ locked 1 mm off": "trend fails",
    "axial stiffness, three ÷ two screws": "trend holds",
    "lateral bending stiffness, three ÷ two screws": "trend holds",
    "torsional stiffness, three ÷ two screws": "trend holds",
    "axial stiffness, gap 3-10 mm ÷ gap 1.5 mm": "trend holds",
    "axial stiffness, next longer ÷ shorter working length": "trend holds",
    "axial stiffness, next larger ÷ smaller stand-off": "trend holds",
    # 2.29 to 2.59 beside 1.7 to 2.2, which is our reading of "almost twice", from memory; solids give 2.26 and 2.54
    "axial flexibility, hole free ÷ filled, ball joints": "outside",
    "torsional flexibility, hole free ÷ filled, ball joints": "inside",
    "axial flexibility, hole free ÷ filled, held ends": "outside",
    "push of one eccentric 3.5 screw as plans reckon with it": "outside",
    "compression after the first eccentric screw": "inside",
    "compression after the second": "inside",
    "second ÷ first": "outside",
    "torsional stiffness": "inside",
    "load at which the far cortex touches": "inside",
    "compression, pre-bend 1.5 mm ÷ straight": "trend fails",
    "compression, pre-bend 3 ÷ 1.5 mm": "trend fails",
    "compression, torque 2 ÷ 1 N·m": "trend holds",
}
# Known miss: the model makes a plate clamped on the bone 3-46 % stiffer axially than one locked 1 mm off; the paper
# found under 10 %.
KNOWN_MISSES = {"axial stiffness, non-locked on the bone ÷ locked 1 mm off"}


@pytest.fixture(scope="module")
def rows() -> tuple[BenchRow, ...]:
    return run_bench_cases()


def test_verdicts_do_not_change_silently(rows: tuple[BenchRow, ...]) -> None:
    assert {row.quantity: row.verdict for row in rows} == VERDICTS


def test_qualitative_findings_hold(rows: tuple[BenchRow, ...]) -> None:
    qualitative = [row for row in rows if 3 <= row.case.number <= 6]
    assert {row.case.number for row in qualitative} == {3, 4, 5, 6}
    assert {row.quantity for row in qualitative if row.verdict != "trend holds"} == KNOWN_MISSES


def test_verdict_follows_from_the_band(rows: tuple[BenchRow, ...]) -> None:
    for row in rows:
        assert all(math.isfinite(x) for x in row.band)
        assert 0.0 < row.band[0] <= row.band[1]
        if row.paper is not None:
            inside = row.band[0] <= row.paper[1] and row.paper[0] <= row.band[1]
            assert row.verdict == ("inside" if inside else "outside")


def test_bands_stay_where_they_were(rows: tuple[BenchRow, ...]) -> None:
    """The model's own figures, so that a change of the model shows here and not only where a verdict flips."""
    found = {row.quantity: row.band for row in rows}
    assert found["near-cortex closing at 150 N"] == pytest.approx((0.0202, 0.2995), rel=5e-3)
    assert found["axial flexibility, hole free ÷ filled, ball joints"] == pytest.approx((2.286, 2.594), rel=5e-3)
    # by hand: 1 N·m ÷ (0.6·3.5 mm)·(tan(45° − arctan 0.3) − 0.35), and with 2, 0.3 and 0.1 in their places; with less
    # friction under the plate it slips sooner than the wedge
    assert found["compression after the first eccentric screw"] == pytest.approx((89.7, 891.8), rel=5e-3)


def test_every_case_says_what_it_rests_on(rows: tuple[BenchRow, ...]) -> None:
    assert [case.number for case in BENCH_CASES] == list(range(1, 12))
    assert {row.case.number for row in rows} == set(range(1, 12))
    for case in BENCH_CASES:
        for text in (case.set_up, case.missing, case.figure, case.source, case.standing, case.tolerance):
            assert text


def test_a_test_says_why_just_where_something_lies_outside(rows: tuple[BenchRow, ...]) -> None:
    missed = {row.case.number for row in rows if row.verdict in ("outside", "trend fails")}
    assert {case.number for case in BENCH_CASES if case.cause} == missed
