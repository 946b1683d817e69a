"""Figures of a solved construct: stiffness, and what happens at each fracture line, in the plate and in the screws."""

from collections.abc import Callable

from app.figures.figure import Figure, decimals, hundredths, significant, yes
from app.mechanics import LineAnswer, LoadCase, MechanicsResult, PlateStress, ScrewAnswer, Supports

NMM_PER_NM = 1000.0
WHOLE_NUMBER, HUNDREDTHS = decimals(0), decimals(2)
THREE_FIGURES, TWO_FIGURES = significant(3), significant(2)
_TURN = "N·m/°"
_CAUSED = ("closing", "opening")


def supports_text(supports: Supports) -> str:
    """How the ends are held, in words."""
    if supports.proximal == supports.distal:
        return "both ends held" if supports.proximal == "held" else "ball joints"
    return "proximal end held" if supports.proximal == "held" else "distal end held"


AXIAL_LOAD: Figure[LoadCase] = Figure("axial-load", "Load", "Axial", "N", lambda of: of.axial_n, WHOLE_NUMBER)
BENDING_LOAD: Figure[LoadCase] = Figure(
    "bending-load", "Load", "Bending", "N·m", lambda of: of.bending_nmm / NMM_PER_NM
)
TORSION_LOAD: Figure[LoadCase] = Figure(
    "torsion-load", "Load", "Torsion", "N·m", lambda of: of.torsion_nmm / NMM_PER_NM
)
LOAD: tuple[Figure[LoadCase], ...] = (
    AXIAL_LOAD,
    BENDING_LOAD,
    Figure("lateral-load", "Load", "Lateral bending", "N·m", lambda of: of.lateral_nmm / NMM_PER_NM),
    TORSION_LOAD,
)
UNDER: tuple[Figure[MechanicsResult], ...] = (
    Figure("ends", "Load", "Ends", "", lambda of: supports_text(of.supports)),
    Figure("holds", "Load", "Holds", "", lambda of: "yes" if of.unstable is None else of.unstable),
)

# Stiffer isn't better: a bridged fracture needs motion, a compressed one none.
AXIAL: Figure[MechanicsResult] = Figure(
    "axial", "Stiffness", "Axial", "N/mm", lambda of: of.axial_stiffness_n_per_mm, THREE_FIGURES,
    name="Axial stiffness",
)  # fmt: skip
BENDING_TENSION: Figure[MechanicsResult] = Figure(
    "bending-tension", "Stiffness", "Bending, plate in tension", _TURN,
    lambda of: of.bending_stiffness_plate_tension_nm_per_deg, THREE_FIGURES,
    name="Bending stiffness, plate in tension",
)  # fmt: skip
BENDING_COMPRESSION: Figure[MechanicsResult] = Figure(
    "bending-compression", "Stiffness", "Bending, plate in compression", _TURN,
    lambda of: of.bending_stiffness_plate_compression_nm_per_deg, THREE_FIGURES,
    name="Bending stiffness, plate in compression",
)  # fmt: skip
LATERAL: Figure[MechanicsResult] = Figure(
    "bending-lateral", "Stiffness", "Lateral bending", _TURN, lambda of: of.lateral_stiffness_nm_per_deg, THREE_FIGURES,
    name="Lateral bending stiffness",
)  # fmt: skip
TORSION: Figure[MechanicsResult] = Figure(
    "torsion", "Stiffness", "Torsion", _TURN, lambda of: of.torsional_stiffness_nm_per_deg, THREE_FIGURES,
    name="Torsional stiffness",
)  # fmt: skip
STIFFNESS = (AXIAL, BENDING_TENSION, BENDING_COMPRESSION, LATERAL, TORSION)
SUPPORTED = frozenset({AXIAL.id, TORSION.id})  # stiffnesses that hold for the way the ends are held


def _moved(which: str, label: str, read: Callable[[LineAnswer], float], worded: str) -> Figure[LineAnswer]:
    return Figure(
        f"motion-{which}", "Motion", label, "mm", read, hundredths,
        ways=None if which == "shear" else _CAUSED, worded=worded,
    )  # fmt: skip


def _strained(which: str, read: Callable[[LineAnswer], float | None]) -> Figure[LineAnswer]:
    return Figure(
        f"strain-{which}", "Motion", f"Strain, {which} cortex", "%", read, TWO_FIGURES,
        ways=_CAUSED, worded=f"{which} cortex",
    )  # fmt: skip


MOVED = (
    _moved("near", "Opening, near cortex", lambda of: of.motion.near_mm, "Near cortex"),
    _moved("far", "Opening, far cortex", lambda of: of.motion.far_mm, "Far cortex"),
    _moved("shear", "Shear", lambda of: of.motion.shear_mm, "Shear"),
)
STRAIN_NEAR = _strained("near", lambda of: of.strain.near_percent)
STRAIN_FAR = _strained("far", lambda of: of.strain.far_percent)
MOTION: tuple[Figure[LineAnswer], ...] = (
    *MOVED,
    Figure("turn", "Motion", "Turn", "°", lambda of: of.motion.turn_deg, HUNDREDTHS),
    Figure("twist", "Motion", "Twist", "°", lambda of: of.motion.twist_deg, HUNDREDTHS),
    STRAIN_NEAR,
    STRAIN_FAR,
)


def _both(near: bool, far: bool) -> str:
    return f"{yes(near)} / {yes(far)}"


def _touching(of: LineAnswer) -> str:
    contact = of.interface
    if contact.closed or (contact.near_closed and contact.far_closed):
        return "closed"
    if contact.near_closed or contact.far_closed:
        return f"only the {'near' if contact.near_closed else 'far'} cortex touches"
    return "open"


def _bending_nm(of: LineAnswer) -> float | None:
    bending = of.interface.opens_at_nmm
    return None if bending is None else bending / NMM_PER_NM


def _percent(value: float | None) -> float | None:
    return None if value is None else 100 * value


MOST_PERCENT = 1000.0  # of the load: whatever opens beyond ten times of it opens in no use of the limb


def _signed(value: float) -> str:
    return f"{round(value) + 0.0:+.0f}"


FACES: Figure[LineAnswer] = Figure("faces", "Contact", "Under load", "", _touching)
OPENS_FACTOR: Figure[LineAnswer] = Figure(
    "opens-factor", "Contact", "Opens at, of the load", "%", lambda of: _percent(of.interface.opens_at_factor),
    WHOLE_NUMBER, most=MOST_PERCENT,
)  # fmt: skip
OPENS_AXIAL: Figure[LineAnswer] = Figure(
    "opens-axial", "Contact", "Opens at, axial", "N", lambda of: of.interface.opens_at_n, lambda value: f"{value:,.0f}",
)  # fmt: skip
MARGIN: Figure[LineAnswer] = Figure(
    "margin", "Contact", "Margin before it opens", "%", lambda of: _percent(of.interface.margin), _signed, "higher",
    most=MOST_PERCENT - 100,
)  # fmt: skip


def _opens(of: LineAnswer) -> str:
    """The part of the load, said as load too where that has a part along the axis."""
    contact = of.interface
    if contact.margin is None or contact.opens_at_factor is None:
        return "nothing pressed it" if contact.preload_n <= 0 else "stays pressed"
    force = "" if contact.opens_at_n is None else f"{OPENS_AXIAL.told(of)}, "
    return f"{force}{OPENS_FACTOR.told(of)} of the load (margin {MARGIN.told(of)})"


OPENS: Figure[LineAnswer] = Figure("opens", "Contact", "Opens at", "", _opens)
CONTACT: tuple[Figure[LineAnswer], ...] = (
    Figure(
        "preloaded", "Contact", "Pressed by tightening, near / far", "",
        lambda of: _both(of.interface.near_preloaded, of.interface.far_preloaded),
    ),
    FACES,
    Figure(
        "preload", "Contact", "Pressed with", "N", lambda of: of.interface.preload_n, WHOLE_NUMBER,
    ),
    OPENS_FACTOR,
    OPENS_AXIAL,
    Figure("opens-bending", "Contact", "Opens at, bending", "N·m", _bending_nm),
    MARGIN,
    Figure("slip", "Contact", "Friction used", "", lambda of: of.interface.slip_ratio, HUNDREDTHS),
)  # fmt: skip


def _in_plate(read: Callable[[PlateStress], float]) -> Callable[[MechanicsResult], float | None]:
    return lambda of: None if of.plate is None else read(of.plate)


PEAK: Figure[MechanicsResult] = Figure(
    "peak-stress", "Plate", "Peak stress", "MPa", _in_plate(lambda plate: plate.peak_mpa), WHOLE_NUMBER,
    name="Peak stress in the plate",
)  # fmt: skip
PEAK_AT: Figure[MechanicsResult] = Figure(
    "peak-place", "Plate", "Where", "mm", _in_plate(lambda plate: plate.peak_s_mm), WHOLE_NUMBER,
    name="Place of the peak stress",
)  # fmt: skip
FATIGUE: Figure[MechanicsResult] = Figure(
    "fatigue-ratio", "Plate", "Stress swing, of what is borne for long", "",
    _in_plate(lambda plate: plate.fatigue_ratio), HUNDREDTHS, "lower",
    name="Stress swing about its mean ÷ what the metal bears for long (Goodman)",
)  # fmt: skip
SWING: Figure[MechanicsResult] = Figure(
    "stress-swing", "Plate", "Stress swing under the load", "MPa", _in_plate(lambda plate: plate.swing_mpa),
    WHOLE_NUMBER, "lower",
)  # fmt: skip
LOAD_RATIO: Figure[MechanicsResult] = Figure(
    "load-ratio", "Plate", "Load ratio R of that swing", "", _in_plate(lambda plate: plate.load_ratio), HUNDREDTHS,
)  # fmt: skip
YIELD: Figure[MechanicsResult] = Figure(
    "yield-ratio", "Plate", "Peak stress ÷ yield strength", "", _in_plate(lambda plate: plate.yield_ratio),
    HUNDREDTHS, "lower",
)  # fmt: skip
RATIOS = (FATIGUE, LOAD_RATIO, YIELD)
PLATE = (PEAK, PEAK_AT, SWING, *RATIOS)

PULL: Figure[ScrewAnswer] = Figure("pull", "Screw load", "Pull", "N", lambda of: of.pull_n, WHOLE_NUMBER)
PULL_OUT: Figure[ScrewAnswer] = Figure(
    "pull-of-pull-out", "Screw load", "Pull, of its pull-out force", "%", lambda of: _percent(of.pull_out_ratio),
    WHOLE_NUMBER,
)  # fmt: skip
BENT: Figure[ScrewAnswer] = Figure(
    "bending-of-yield", "Screw load", "Bending, of its yield", "%", lambda of: _percent(of.bending_ratio),
    WHOLE_NUMBER,
)  # fmt: skip
SLIPPING: Figure[ScrewAnswer] = Figure(
    "shear-of-friction", "Screw load", "Shear, of its friction", "%", lambda of: _percent(of.friction_ratio),
    WHOLE_NUMBER,
)  # fmt: skip
SCREW_LOAD = (PULL, PULL_OUT, BENT, SLIPPING)


def _worst(of_screw: Figure[ScrewAnswer], name: str, label: str) -> Figure[MechanicsResult]:
    # The worst screw decides. That one and the same screw bears less may only mean that another one bears more.
    def read(of: MechanicsResult) -> float | str | None:
        return max((value for screw in of.screws if isinstance(value := of_screw.read(screw), float)), default=None)

    return Figure(name, "Worst screw", label, of_screw.unit, read, of_screw.form, "lower")


def _most_slipping(of: MechanicsResult) -> float | str | None:
    return _percent(max((ratio for ratio in of.slip_ratios if ratio is not None), default=None))


# What one hole can't bear its neighbours take, so that slip is a figure of the fragment, not of its worst screw.
SLIP: Figure[MechanicsResult] = Figure(
    "friction", "Worst screw", "Most slipping fragment, load of its friction", "%", _most_slipping, WHOLE_NUMBER,
    "lower",
)  # fmt: skip
_WORST_SCREW = (
    _worst(PULL_OUT, "pull-out", "Most pulled screw, of its pull-out force"),
    _worst(BENT, "screw-bending", "Most bent screw, of its yield"),
)
WORST = (*_WORST_SCREW, SLIP)
WORST_OF = {figure.id: of_screw for figure, of_screw in zip(_WORST_SCREW, SCREW_LOAD[1:], strict=False)}


def worst_told(figure: Figure[MechanicsResult], result: MechanicsResult) -> str:
    """A figure of the worst screw, with the screw's id; the last of those that bear the same."""
    of_screw = WORST_OF.get(figure.id)
    if of_screw is None:
        return figure.told(result) if figure.read(result) is not None else "no clamped fragment"
    found = [(value, screw) for screw in result.screws if isinstance(value := of_screw.read(screw), float)]
    if not found:
        return "no such screw"
    _, screw = max(found, key=lambda one: (one[0], one[1].id))
    return f"{screw.id}: {of_screw.told(screw)}"
