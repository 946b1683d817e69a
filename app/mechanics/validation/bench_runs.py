"""The frame model run over what each published bench test leaves open, compared with the figure of the paper.

A figure that the model misses is reported as a miss.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise, product

from app.catalogue.loads import tightening
from app.mechanics.answers import InterfaceAnswer, MechanicsResult
from app.mechanics.model import Construct, Friction, LoadCase
from app.mechanics.solve import analyse
from app.mechanics.tightening import clamp_force_n, torque_nm, wedge_share
from app.mechanics.validation.bench_cases import BENCH_CASES, BenchCase
from app.mechanics.validation.bench_models import (
    BALL,
    HELD,
    MIXED,
    STEEL_MPA,
    TITANIUM_MPA,
    Bar,
    Cylinder,
    Screwing,
    plated,
)

# Lengths of a hole whose shape the paper leaves out: round, or as long as the catalogue's combination holes (mm).
SMALL_HOLES = (None, 8.0)
LARGE_HOLES = (None, 11.0)
SLOPE_DEG = 45.0  # of a compression hole under its head: from memory


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One figure of one bench test.

    Attributes:
        case: the test.
        quantity: what the figure is.
        unit: its unit.
        paper: range of the paper, lowest and highest; None for a trend.
        band: range of the model over all assumptions, lowest and highest.
        verdict: 'inside', 'outside', 'trend holds' or 'trend fails'.
    """

    case: BenchCase
    quantity: str
    unit: str
    paper: tuple[float, float] | None
    band: tuple[float, float]
    verdict: str


def _row(number: int, quantity: str, unit: str, values: Iterable[float], paper: tuple[float, float]) -> BenchRow:
    found = list(values)
    band = (min(found), max(found))
    inside = band[0] <= paper[1] and paper[0] <= band[1]
    return BenchRow(BENCH_CASES[number - 1], quantity, unit, paper, band, "inside" if inside else "outside")


def _trend(number: int, quantity: str, unit: str, values: Iterable[float], low: float, high: float) -> BenchRow:
    found = list(values)
    band = (min(found), max(found))
    holds = low <= band[0] and band[1] <= high
    return BenchRow(BENCH_CASES[number - 1], quantity, unit, None, band, "trend holds" if holds else "trend fails")


def _axial(construct: Construct) -> float:
    return _known(analyse(construct).axial_stiffness_n_per_mm)


def _torsion(result: MechanicsResult) -> float:
    return _known(result.torsional_stiffness_nm_per_deg)


def _bending(result: MechanicsResult) -> float:
    return _known(result.bending_stiffness_plate_tension_nm_per_deg)


def _known(value: float | None) -> float:
    if value is None:
        raise ValueError("a bench construct is unstable")
    return value


def _near_motion() -> list[BenchRow]:
    values, tube = [], Cylinder(30.0, 7.0, 243.0, 3_100.0, 0.35)
    sizes = product((STEEL_MPA, TITANIUM_MPA), (3.0, 3.4), SMALL_HOLES, (BALL, MIXED, HELD))
    for metal, thickness, slot, ends in sizes:
        screwing = Screwing((2, 3, 4), 2.9, 3.5, modulus_mpa=metal)
        bar = Bar(11.0, thickness, 4.0, 13.0, 11, metal, slot)
        result = analyse(plated(tube, bar, screwing, 3.0, 2.0, LoadCase(axial_n=150.0), ends))
        values.append(-result.lines[0].motion.near_mm)
    return [_row(1, "near-cortex closing at 150 N", "mm", values, (0.282, 0.282))]


def _broad_titanium() -> list[BenchRow]:
    axial, bending, torsion = [], [], []
    sizes = product((10e3, 16e3), (17.0, 20.0), (250.0, 300.0), LARGE_HOLES, (BALL, MIXED, HELD))
    for modulus, pitch, length, slot, ends in sizes:
        tube, bar = Cylinder(27.0, 7.0, length, modulus), Bar(17.5, 5.6, 5.5, pitch, 11, TITANIUM_MPA, slot)
        screwing = Screwing((1, 3, 5), 4.0, 4.5, modulus_mpa=TITANIUM_MPA)
        result = analyse(plated(tube, bar, screwing, 10.0, 1.0, supports=ends))
        axial.append(_known(result.axial_stiffness_n_per_mm) / 1000.0)
        bending.append(math.degrees(_bending(result)) * length / 1000.0)
        torsion.append(_torsion(result) * length / 1000.0)
    return [
        _row(2, "axial stiffness", "kN/mm", axial, (2.77, 3.03)),
        _row(2, "bending rigidity", "N·m²", bending, (80.94, 84.86)),
        _row(2, "torsional rigidity", "N·m²/°", torsion, (0.37, 0.43)),
    ]


def _small_plate_standoff() -> list[BenchRow]:
    change, fall = [], []
    for outer, modulus in product((10.0, 16.0), (3e3, 17e3)):
        rod, bar = Cylinder(outer, outer / 2.0, 120.0, modulus), Bar(5.5, 1.5, 2.2, 7.0, 12, STEEL_MPA)
        spans = [Screwing((n, n + 1, n + 2), 1.5, 2.0) for n in (4, 3, 2)]
        stiff = [[_bending(analyse(plated(rod, bar, span, 3.0, off))) for off in (1.0, 1.5, 3.0)] for span in spans]
        change += [max(row) / min(row) for row in stiff]
        fall += [after[k] / before[k] for before, after in pairwise(stiff) for k in range(3)]
    return [
        _trend(3, "bending stiffness, largest ÷ smallest over stand-off 1-3 mm", "×", change, 1.0, 1.1),
        _trend(3, "bending stiffness, next longer ÷ shorter working length", "×", fall, 0.0, 0.999),
    ]


def _screw_kinds() -> list[BenchRow]:
    one_cortex, clamped = [], []
    for wall, modulus, slot in product((2.0, 5.0), (5e3, 16e3), LARGE_HOLES):
        tube, bar = Cylinder(27.0, wall, 270.0, modulus), Bar(17.5, 5.6, 5.5, 18.0, 11, TITANIUM_MPA, slot)
        base = Screwing((1, 3, 5), 4.0, 4.5, modulus_mpa=TITANIUM_MPA)
        two = _axial(plated(tube, bar, base, 10.0, 1.0))
        one_cortex.append(_axial(plated(tube, bar, replace(base, kind="locking-1"), 10.0, 1.0)) / two)
        clamped.append(_axial(plated(tube, bar, replace(base, kind="clamped"), 10.0, 0.0)) / two)
    return [
        _trend(4, "axial stiffness, unicortical ÷ bicortical locking", "×", one_cortex, 0.9, 1.1),
        _trend(4, "axial stiffness, non-locked on the bone ÷ locked 1 mm off", "×", clamped, 0.9, 1.1),
    ]


def _third_screw() -> list[BenchRow]:
    ratios: list[list[float]] = [[], [], []]
    patterns = (((1, 4), (1, 2, 4)), ((1, 4), (1, 3, 4)), ((3, 4), (2, 3, 4)), ((1, 3), (1, 2, 3)))
    for outer, wall, modulus, (two, three) in product((20.0, 24.0), (2.0, 4.0), (8e3, 17e3), patterns):
        tube, bar = Cylinder(outer, wall, 240.0, modulus), Bar(13.5, 4.5, 5.0, 18.0, 8, STEEL_MPA)
        pair = [analyse(plated(tube, bar, Screwing(holes, 4.0, 4.5), 5.0, 1.0)) for holes in (two, three)]
        for found, read in zip(ratios, (_axial_of, _lateral, _torsion), strict=True):
            found.append(read(pair[1]) / read(pair[0]))
    limits = (("axial", 1.53), ("lateral bending", 1.81), ("torsional", 1.50))
    return [
        _trend(5, f"{name} stiffness, three ÷ two screws", "×", found, 0.99, high)
        for (name, high), found in zip(limits, ratios, strict=True)
    ]


def _axial_of(result: MechanicsResult) -> float:
    return _known(result.axial_stiffness_n_per_mm)


def _lateral(result: MechanicsResult) -> float:
    return _known(result.lateral_stiffness_nm_per_deg)


def _open_gap() -> list[BenchRow]:
    gap, span, off = [], [], []
    tube, bar = Cylinder(27.0, 6.0, 300.0, 17e3), Bar(14.0, 4.5, 5.5, 18.0, 12, STEEL_MPA)
    spans = [Screwing((n, n + 1, n + 2), 4.0, 5.0) for n in (4, 3, 2)]
    for ends in (BALL, HELD):
        base = _axial(plated(tube, bar, spans[1], 1.5, 1.0, supports=ends))
        gap += [_axial(plated(tube, bar, spans[1], size, 1.0, supports=ends)) / base for size in (3.0, 6.0, 10.0)]
    by_span = [_axial(plated(tube, bar, one, 3.0, 1.0)) for one in spans]
    span += [after / before for before, after in pairwise(by_span)]
    by_off = [_axial(plated(tube, bar, spans[1], 3.0, one)) for one in (1.0, 2.0, 4.0, 6.0)]
    off += [after / before for before, after in pairwise(by_off)]
    return [
        _trend(6, "axial stiffness, gap 3-10 mm ÷ gap 1.5 mm", "×", gap, 1.0 - 1e-9, 1.0 + 1e-9),
        _trend(6, "axial stiffness, next longer ÷ shorter working length", "×", span, 0.0, 0.999),
        _trend(6, "axial stiffness, next larger ÷ smaller stand-off", "×", off, 0.0, 0.999),
    ]


def _hole_left_free() -> list[BenchRow]:
    axial, torsion, held = [], [], []
    sizes = product((10e3, 17e3), (4.5, 5.2), (18.0, 20.0), (1.0, 2.0), LARGE_HOLES)
    for modulus, thickness, pitch, off, slot in sizes:
        tube, bar = Cylinder(27.0, 6.0, 300.0, modulus), Bar(14.0, thickness, 5.5, pitch, 12, TITANIUM_MPA, slot)
        screwings = [Screwing(holes, 4.0, 5.0, modulus_mpa=TITANIUM_MPA) for holes in ((4, 5, 6), (3, 4, 5))]
        full, freed = (analyse(plated(tube, bar, one, 6.0, off)) for one in screwings)
        axial.append(_axial_of(full) / _axial_of(freed))
        torsion.append(_torsion(full) / _torsion(freed))
        stiff = [_axial(plated(tube, bar, one, 6.0, off, supports=HELD)) for one in screwings]
        held.append(stiff[0] / stiff[1])
    return [
        _row(7, "axial flexibility, hole free ÷ filled, ball joints", "×", axial, (1.7, 2.2)),
        _row(7, "torsional flexibility, hole free ÷ filled, ball joints", "×", torsion, (1.5, 2.2)),
        _row(7, "axial flexibility, hole free ÷ filled, held ends", "×", held, (1.7, 2.2)),
    ]


@dataclass(frozen=True, slots=True)
class _Tightened:
    """What a test with eccentric screws leaves out: modulus of the rods (MPa), torque (N·m), K, and both frictions."""

    modulus: float
    torque: float
    coefficient: float
    head: float
    friction: float

    def compressed(self, eccentric: tuple[int, ...], prebend_mm: float = 0.0) -> InterfaceAnswer:
        """Two rods under a plate, straight or pre-bent, its screws tightened so, eccentric those in the holes named."""
        force = clamp_force_n(self.torque, self.coefficient, 3.5)
        limit = force * wedge_share(SLOPE_DEG, self.head, self.friction)
        rod, bar = Cylinder(20.0, 10.0, 160.0, self.modulus, 0.35), Bar(11.0, 3.3, 4.0, 13.0, 8, STEEL_MPA)
        base = plated(rod, bar, Screwing((1, 2, 3, 4), 2.4, 3.5, "clamped"), 0.0, 0.0)
        screws = (replace(s, clamp_force_n=force) for s in base.screws)
        pulled = tuple(
            replace(s, shift_mm=-1.0, compression_limit_n=limit) if s.hole_number in eccentric else s for s in screws
        )
        slips = Friction(self.friction, base.friction.bone_bone)
        return analyse(replace(base, screws=pulled, friction=slips, prebend_mm=prebend_mm)).lines[0].interface


def _ways_to_tighten() -> list[_Tightened]:
    return [_Tightened(*one) for one in product((2_800.0, 3_100.0), (1.0, 2.0), (0.3, 0.6), (0.1, 0.3), (0.1, 0.35))]


def _eccentric() -> list[BenchRow]:
    ways = _ways_to_tighten()
    first, second = ([way.compressed(holes).preload_n for way in ways] for holes in ((5,), (5, 6)))
    ratio = [b / a for a, b in zip(first, second, strict=True)]
    usual = tightening()
    force = clamp_force_n(torque_nm(usual.torque_of_4_5_nm, 3.5), usual.torque_coefficient, 3.5)
    planned = force * wedge_share(usual.slope_deg, usual.friction_head, usual.friction_plate_bone)
    return [
        _row(8, "push of one eccentric 3.5 screw as plans reckon with it", "N", [planned], (92.0, 170.0)),
        _row(8, "compression after the first eccentric screw", "N", first, (92.0, 170.0)),
        _row(8, "compression after the second", "N", second, (247.0, 345.0)),
        _row(8, "second ÷ first", "×", ratio, (2.26, 2.26)),
    ]


def _prebend_and_torque() -> list[BenchRow]:
    at_1_nm = [way for way in _ways_to_tighten() if way.torque == 1.0]
    ways = {way: [way.compressed((5,), bend) for bend in (0.0, 1.5, 3.0)] for way in _ways_to_tighten()}
    straight_to_bent = [found[1].preload_n / found[0].preload_n for found in ways.values()]
    more_bent = [found[2].preload_n / found[1].preload_n for found in ways.values()]
    turned = [
        twice.preload_n / once.preload_n
        for way in at_1_nm
        for once, twice in zip(ways[way], ways[replace(way, torque=2.0)], strict=True)
    ]
    return [
        _trend(11, "compression, pre-bend 1.5 mm ÷ straight", "×", straight_to_bent, 0.0, 0.999),
        _trend(11, "compression, pre-bend 3 ÷ 1.5 mm", "×", more_bent, 0.0, 0.999),
        _trend(11, "compression, torque 2 ÷ 1 N·m", "×", turned, 1.001, 2.001),
    ]


def _small_plate_torsion() -> list[BenchRow]:
    values = []
    patterns = ((1, 2, 4), (1, 2, 3, 4), (1, 3))
    for outer, wall, modulus, metal, length, holes, slot in product(
        (20.0, 30.0), (3.0, 5.0), (10e3, 17e3), (STEEL_MPA, TITANIUM_MPA), (160.0, 240.0), patterns, SMALL_HOLES
    ):
        screwing = Screwing(holes, 2.9, 3.5, modulus_mpa=metal)
        tube, bar = Cylinder(outer, wall, length, modulus), Bar(11.0, 3.3, 4.0, 13.0, 8, metal, slot)
        values.append(_torsion(analyse(plated(tube, bar, screwing, 5.0, 1.0))))
    return [_row(9, "torsional stiffness", "N·m/°", values, (0.9, 1.2))]


def _far_cortex_contact() -> list[BenchRow]:
    values = []
    sizes = product((1.0, 2.0), (40.0, 80.0), (20.0, 30.0), ((1, 2, 3, 4), (1, 2, 3)), SMALL_HOLES)
    for gap, arm, outer, holes, slot in sizes:
        tube, bar = Cylinder(outer, 3.0, 240.0, 10e3), Bar(11.0, 3.3, 4.0, 13.0, 12, STEEL_MPA, slot)
        result = analyse(plated(tube, bar, Screwing(holes, 2.9, 3.5), 1e3, 1.0, LoadCase(bending_nmm=1000.0)))
        moment = 1000.0 * gap / -result.lines[0].motion.far_mm
        values.append(2.0 * moment / arm)
    return [_row(10, "load at which the far cortex touches", "N", values, (150.0, 155.0))]


def run_bench_cases() -> tuple[BenchRow, ...]:
    """Run every bench test over its assumptions; some hundreds of solutions, which take a second or two.

    Raises:
        ValueError: a construct of a test is unstable.
    """
    runs = (
        _near_motion,
        _broad_titanium,
        _small_plate_standoff,
        _screw_kinds,
        _third_screw,
        _open_gap,
        _hole_left_free,
        _eccentric,
        _small_plate_torsion,
        _far_cortex_contact,
        _prebend_and_torque,
    )
    return tuple(row for run in runs for row in run())
