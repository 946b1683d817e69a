"""Screws and plates against standards, handbooks and geometry."""

import pytest

from app.catalogue import PlateSeries, ScrewSpec, default_catalogue

CATALOGUE = default_catalogue()
SCREWS = list(CATALOGUE.screws.values())
SERIES = list(CATALOGUE.series.values())
CORTEX = [screw for screw in SCREWS if screw.kind == "cortex"]
LOCKING = [screw for screw in SCREWS if screw.kind == "locking"]


def test_cortex_screw_of_4_5() -> None:
    # musculoskeletalkey.com, Screws: thread 4.5, core 3.0, pitch 1.75, as ISO 5835.
    screw = CATALOGUE.screws["cortex-4.5"]
    assert (screw.thread_mm, screw.core_mm, screw.pitch_mm) == (4.5, 3.0, 1.75)


def test_cortex_screw_of_3_5() -> None:
    # Wheeless' Textbook of Orthopaedics, 3.5 mm cortex screw: core 2.4, drill 2.5.
    screw = CATALOGUE.screws["cortex-3.5"]
    assert (screw.core_mm, screw.thread_drill_mm) == (2.4, 2.5)


def test_drills_everybody_knows() -> None:
    # Common practice, no source.
    cortex, locking = CATALOGUE.screws["cortex-3.5"], CATALOGUE.screws["locking-3.5"]
    assert (cortex.thread_drill_mm, cortex.gliding_drill_mm) == (2.5, 3.5)
    assert (locking.thread_drill_mm, locking.gliding_drill_mm) == (2.8, None)


# Wheeless' Textbook of Orthopaedics, lag screw theory: thread drill by screw.
@pytest.mark.parametrize(("thread", "drill"), [(1.5, 1.1), (2.0, 1.5), (2.7, 2.0), (3.5, 2.5), (4.5, 3.2)])
def test_thread_drills(thread: float, drill: float) -> None:
    assert CATALOGUE.screws[f"cortex-{thread}"].thread_drill_mm == drill


# ISO 5835, shallow thread, from memory (to be checked against a licensed copy): thread, core, pitch, head.
@pytest.mark.parametrize(
    ("thread", "core", "pitch", "head"),
    [
        (1.5, 1.1, 0.5, 3.0),
        (2.0, 1.3, 0.6, 4.0),
        (2.7, 1.9, 1.0, 5.0),
        (3.5, 2.4, 1.25, 6.0),
        (4.0, 2.9, 1.5, 6.0),
        (4.5, 3.0, 1.75, 8.0),
        (5.0, 3.5, 1.75, 8.0),
    ],
)
def test_shallow_thread_table(thread: float, core: float, pitch: float, head: float) -> None:
    screw = CATALOGUE.screws[f"cortex-{thread}"]
    assert (screw.thread_mm, screw.core_mm, screw.pitch_mm, screw.head_mm) == (thread, core, pitch, head)


@pytest.mark.parametrize("screw", CORTEX, ids=lambda screw: screw.key)
def test_thread_hole_and_gliding_hole(screw: ScrewSpec) -> None:
    # AO Surgery Reference, lag screw fixation: thread hole as the core (nearest drill), gliding hole as the screw.
    assert screw.core_mm <= screw.thread_drill_mm < screw.thread_mm
    assert screw.gliding_drill_mm == screw.tap_mm == screw.thread_mm
    assert screw.torque_nm is None


@pytest.mark.parametrize("screw", LOCKING, ids=lambda screw: screw.key)
def test_locking_screws_cut_a_shade_of_their_core(screw: ScrewSpec) -> None:
    # Common practice for 3.5, the rest from memory: the drill is at or just below the core.
    assert screw.core_mm - 0.15 <= screw.thread_drill_mm <= screw.core_mm
    assert screw.torque_nm is not None
    # A torque far below what the core bears: fully plastic shear pi d^3 tau / 12 at 600 MPa, the middle of the figures
    # that ISO 6475's minimum torques (from memory) give for shallow threads.
    assert screw.torque_nm < 0.55 * 3.1416 * screw.core_mm**3 * 600 / 12 / 1000


def test_locking_torque_limits() -> None:
    # From memory, to be checked.
    assert CATALOGUE.screws["locking-3.5"].torque_nm == 1.5
    assert CATALOGUE.screws["locking-5.0"].torque_nm == 4.0


@pytest.mark.parametrize("screw", SCREWS, ids=lambda screw: screw.key)
def test_lengths_made_rise_without_large_gaps(screw: ScrewSpec) -> None:
    steps = [b - a for a, b in zip(screw.stock_mm, screw.stock_mm[1:], strict=False)]
    assert min(steps) > 0
    assert max(steps) <= 5


@pytest.mark.parametrize("series", SERIES, ids=lambda series: series.key)
def test_holes_pass_the_thread_and_stop_the_head(series: PlateSeries) -> None:
    # Geometry: nothing else lets a screw seat.
    for key in (series.cortex_screw, series.locking_screw):
        if key is not None:
            screw = CATALOGUE.screws[key]
            assert screw.thread_mm < series.hole_mm < screw.head_mm
    assert series.hole_mm + 2 * series.travel_mm <= series.slot_mm < min(series.pitch_mm, 2 * series.end_mm)
    assert series.hole_mm < 0.6 * series.width_mm


def test_series_shipped() -> None:
    kinds = {key: series.hole_kind for key, series in CATALOGUE.series.items()}
    assert kinds == {
        "mini-2.7": "combination",
        "small-3.5": "combination",
        "large-narrow-4.5": "combination",
        "large-broad-4.5": "combination",
        "third-tubular-3.5": "oval",
        "small-compression-3.5": "dynamic",
        "large-narrow-compression-4.5": "dynamic",
    }
    assert {8, 11, 12, 14} <= set(CATALOGUE.series["small-3.5"].holes_made)


def test_travel_of_one_load_screw() -> None:
    # Wheeless' Textbook of Orthopaedics, theory of dynamic compression plates: 1 mm for one load screw (taken as 4.5).
    for key in ("large-narrow-4.5", "large-broad-4.5", "large-narrow-compression-4.5"):
        assert CATALOGUE.series[key].travel_mm == 1.0


def test_oval_holes_compress() -> None:
    # Wheeless' Textbook of Orthopaedics, one-third tubular plate as a tension band: eccentric screws in oval holes
    # press along the shaft; by how much one shifts is assumed, and must be less than the ramp of a dynamic hole
    tubular = CATALOGUE.series["third-tubular-3.5"]
    assert 0 < tubular.travel_mm < CATALOGUE.series["small-compression-3.5"].travel_mm
    assert tubular.figures["travel_mm"].standing == "assumed"


def test_roles_follow_the_holes() -> None:
    assert CATALOGUE.series["third-tubular-3.5"].roles() == ("empty", "neutral", "eccentric", "lag")
    assert CATALOGUE.series["small-compression-3.5"].roles() == ("empty", "neutral", "eccentric", "lag")
    assert CATALOGUE.series["small-3.5"].roles()[-2:] == ("locking-2", "locking-1")
