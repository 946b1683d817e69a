"""The mechanics' answers for one construct as lines of a table."""

from collections.abc import Iterator

from app.assess import ConstructAssessment
from app.compare.figures import (
    HOLD,
    LINE,
    LOAD,
    METAL,
    STIFFNESS,
    Figure,
    Group,
    line_name,
    screw_name,
    screw_rank,
    yes,
)
from app.mechanics import LoadCase, MechanicsResult, Supports
from app.mechanics.answers import InterfaceAnswer, LineAnswer, PlateStress, ScrewAnswer

NMM_PER_NM = 1000.0


def asked(result: MechanicsResult) -> tuple[LoadCase, Supports]:
    """What the answers are for: ratios under different loads can't be set against each other."""
    return result.load, result.supports


def mechanics_figures(one: ConstructAssessment) -> Iterator[Figure]:
    """All figures of the mechanics; none where the assessment has none."""
    result = one.mechanics
    if result is None:
        return
    yield from _load(result)
    yield from _stiffness(result)
    for number, line in enumerate(result.lines, 1):
        yield from _motion(number, line)
        yield from _contact(number, line.interface)
    if result.plate is not None:
        yield from _plate(result.plate)
    yield from _hold(result.screws)


def _load(result: MechanicsResult) -> Iterator[Figure]:
    load, supports = result.load, result.supports
    group = Group(LOAD, 0, "Load")
    yield group.number(0, "Axial", "N", load.axial_n, 0)
    yield group.number(1, "Bending", "N·m", load.bending_nmm / NMM_PER_NM)
    yield group.number(2, "Lateral bending", "N·m", load.lateral_nmm / NMM_PER_NM)
    yield group.number(3, "Torsion", "N·m", load.torsion_nmm / NMM_PER_NM)
    yield group.words(4, "Ends held", f"{supports.proximal}, {supports.distal}")
    yield group.words(5, "Holds", "yes" if result.unstable is None else result.unstable)


def _stiffness(result: MechanicsResult) -> Iterator[Figure]:
    # Stiffer isn't better: a bridged fracture needs motion, a compressed one none.
    group = Group(STIFFNESS, 0, "Stiffness")
    bending = (
        ("Bending, plate in tension", result.bending_stiffness_plate_tension_nm_per_deg),
        ("Bending, plate in compression", result.bending_stiffness_plate_compression_nm_per_deg),
        ("Lateral bending", result.lateral_stiffness_nm_per_deg),
        ("Torsion", result.torsional_stiffness_nm_per_deg),
    )
    yield group.number(0, "Axial", "N/mm", result.axial_stiffness_n_per_mm, 0)
    for line, (name, value) in enumerate(bending, 1):
        yield group.number(line, name, "N·m/°", value, 2)


def _motion(number: int, answer: LineAnswer) -> Iterator[Figure]:
    motion, strain = answer.motion, answer.strain
    group = Group(LINE, number, f"{line_name(number)}: motion")
    yield group.number(0, "Opening, near cortex", "mm", motion.near_mm, 3)
    yield group.number(1, "Opening, far cortex", "mm", motion.far_mm, 3)
    yield group.number(2, "Shear", "mm", motion.shear_mm, 3)
    yield group.number(3, "Turn", "°", motion.turn_deg, 2)
    yield group.number(4, "Twist", "°", motion.twist_deg, 2)
    yield group.number(5, "Strain, near cortex", "%", strain.near_percent)
    yield group.number(6, "Strain, far cortex", "%", strain.far_percent)


def _contact(number: int, contact: InterfaceAnswer) -> Iterator[Figure]:
    bending = None if contact.opens_at_nmm is None else contact.opens_at_nmm / NMM_PER_NM
    group = Group(LINE, number, f"{line_name(number)}: contact")
    yield group.words(10, "Pressed by tightening, near / far", _both(contact.near_preloaded, contact.far_preloaded))
    yield group.words(11, "Touching under load, near / far", _both(contact.near_closed, contact.far_closed))
    yield group.words(12, "Closed under load", yes(contact.closed))
    yield group.number(13, "Pressed with", "N", contact.preload_n, 0)
    yield group.number(14, "Opens at, times the load", "", contact.opens_at_factor, 2)
    yield group.number(15, "Opens at, axial", "N", contact.opens_at_n, 0)
    yield group.number(16, "Opens at, bending", "N·m", bending)
    yield group.number(17, "Margin before it opens", "", contact.margin, 2, "higher")
    yield group.number(18, "Friction used", "", contact.slip_ratio, 2)


def _both(near: bool, far: bool) -> str:
    return f"{yes(near)} / {yes(far)}"


def _plate(plate: PlateStress) -> Iterator[Figure]:
    group = Group(METAL, 0, "Plate")
    yield group.number(0, "Largest stress", "MPa", plate.peak_mpa, 0)
    yield group.number(1, "Where", "mm", plate.peak_s_mm)
    yield group.number(2, "Stress ÷ yield strength", "", plate.yield_ratio, 2, "lower")
    yield group.number(3, "Stress change ÷ fatigue strength", "", plate.fatigue_ratio, 2, "lower")


def _hold(screws: tuple[ScrewAnswer, ...]) -> Iterator[Figure]:
    # The worst screw decides. That one and the same screw bears less may only mean that another one bears more.
    if screws:
        worst = Group(HOLD, 0, "Worst screw")
        yield worst.number(0, "Pull ÷ pull-out force", "", _most([one.pull_out_ratio for one in screws]), 2, "lower")
        yield worst.number(1, "Bending ÷ yield", "", _most([one.bending_ratio for one in screws]), 2, "lower")
        yield worst.number(2, "Shear ÷ friction", "", _most([one.friction_ratio for one in screws]), 2, "lower")
    for one in screws:
        group = Group(HOLD, screw_rank(one.id), f"{screw_name(one.id)}: load")
        yield group.number(0, "Pull", "N", one.pull_n, 0)
        yield group.number(1, "Pull ÷ pull-out force", "", one.pull_out_ratio, 2)
        yield group.number(2, "Bending ÷ yield", "", one.bending_ratio, 2)
        yield group.number(3, "Shear ÷ friction", "", one.friction_ratio, 2)


def _most(ratios: list[float | None]) -> float | None:
    return max((ratio for ratio in ratios if ratio is not None), default=None)
