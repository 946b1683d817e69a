"""The mechanics panel: a strain gauge, stiffness, motion, stress and hold, each with what it was before the edit."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from app.assess import ConstructAssessment, Knowledge
from app.catalogue.loads import STAGES, load_presets
from app.mechanics import InterfaceAnswer, LineAnswer, MechanicsResult, ScrewAnswer, Supports
from app.mechanics.document import ESTIMATE
from app.mechanics.of_layout import Loading
from app.web.panels.loading import AXIAL_N, BENDING_NM, OWN, TORSION_NM, Loads, query_of
from app.web.panels.summary import Figure, with_was

GAUGE_PERCENT = (0.1, 1000.0)
ENDS = {"ball": "ball joint", "held": "held"}


@dataclass(frozen=True, slots=True)
class Mark:
    """Strain at one cortex. ``place``: along the gauge, percent of its length; None where there is no strain."""

    side: str
    words: str
    place: float | None


@dataclass(frozen=True, slots=True)
class Gauge:
    """One fracture line's gauge; ``title`` is empty where there is only one line."""

    id: str
    title: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Band:
    """What a tissue bears. ``start`` and ``size``: along the gauge, percent of its length."""

    name: str
    limit: str
    start: float
    size: float


@dataclass(frozen=True, slots=True)
class Field:
    """One load that can be typed in."""

    name: str
    label: str
    unit: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LoadForm:
    """The loading as a form. ``source``: where the preset's figures come from, and how firmly they stand."""

    stage: str
    stages: tuple[tuple[str, str], ...]
    fields: tuple[Field, ...]
    supports: tuple[tuple[str, str, str], ...]
    source: str
    standing: str


@dataclass(frozen=True, slots=True)
class MechanicsView:
    """What the panel shows; without ``unstable`` the rest of the figures is there."""

    note: str
    unstable: str | None
    bands: tuple[Band, ...]
    gauges: tuple[Gauge, ...]
    groups: tuple[tuple[str, tuple[Figure, ...]], ...]
    ratio: str | None
    form: LoadForm
    loads: list[dict[str, Any]]
    query: str


def place_on_gauge(percent: float) -> float:
    """Where a strain lies along the gauge, percent of its length: log scale, pinned at both ends."""
    low, high = (math.log10(end) for end in GAUGE_PERCENT)
    inside = min(max(abs(percent), GAUGE_PERCENT[0]), GAUGE_PERCENT[1])
    return 100 * (math.log10(inside) - low) / (high - low)


def mechanics_view(
    one: ConstructAssessment, loads: Loads, knowledge: Knowledge, before: ConstructAssessment | None = None
) -> MechanicsView | None:
    """The panel of one construct; None where its mechanics were not worked out."""
    result, loading = one.mechanics, one.loading
    if result is None or loading is None:
        return None
    old = None if before is None or before.construct.bone.name != one.construct.bone.name else before.mechanics
    stable = result.unstable is None
    earlier = {} if old is None else {figure.id: figure.text for _, group in _groups(old) for figure in group}
    return MechanicsView(
        note=ESTIMATE,
        unstable=result.unstable,
        bands=_bands(knowledge),
        gauges=_gauges(result),
        groups=tuple((name, with_was(group, earlier)) for name, group in _groups(result)) if stable else (),
        ratio=_ratio(result, old),
        form=_form(one.construct.bone.name, loading),
        loads=[choice.model_dump(mode="json", by_alias=True, exclude_none=True) for choice in loads],
        query=query_of(loads),
    )


def _ratio(result: MechanicsResult, old: MechanicsResult | None) -> str | None:
    """Axial stiffness against the layout before, where that held and was supported the same."""
    if old is None:
        return None
    now, was = result.axial_stiffness_n_per_mm, old.axial_stiffness_n_per_mm
    if now is None or was is None or old.supports != result.supports or f"{now:.3g}" == f"{was:.3g}":
        return None
    return f"× {now / was:.2f} of the layout before"


def _bands(knowledge: Knowledge) -> tuple[Band, ...]:
    names = ("bone", "fibrocartilage", "granulation")
    limits = [knowledge.thresholds.value("strain-too-high", f"{name}_max_percent") for name in names]
    edges = [0.0, *(place_on_gauge(limit) for limit in limits), 100.0]
    told = (*(f"up to {limit:g} %" for limit in limits), f"above {limits[-1]:g} %")
    labels = ("bone", "fibro\u00adcartilage", "granu\u00adlation", "no tissue")
    return tuple(
        Band(name, limit, start, end - start)
        for name, limit, start, end in zip(labels, told, edges[:-1], edges[1:], strict=True)
    )


def _gauges(result: MechanicsResult) -> tuple[Gauge, ...]:
    many = len(result.lines) > 1
    return tuple(
        Gauge(f"gauge-{k}", f"Fracture line {k + 1}" if many else "", (_mark(line, "near"), _mark(line, "far")))
        for k, line in enumerate(result.lines)
    )


def _mark(line: LineAnswer, side: str) -> Mark:
    strain = line.strain.near_percent if side == "near" else line.strain.far_percent
    if strain is None:
        return Mark(side, "closed: the faces touch, so there is no gap to strain", None)
    shut = line.interface.near_closed if side == "near" else line.interface.far_closed
    way = "opening" if strain > 0 else "closing until the faces touch" if shut else "closing"
    return Mark(side, f"{_percent(abs(strain))} {way}", place_on_gauge(strain))


def _percent(value: float) -> str:
    return f"{float(f'{value:.2g}'):,.10g} %"


def _groups(result: MechanicsResult) -> tuple[tuple[str, tuple[Figure, ...]], ...]:
    return (
        ("Stiffness", _stiffness(result)),
        ("Motion at the fracture", _motion(result)),
        ("Plate and screws", (*_plate(result), *_screws(result.screws))),
        ("Fracture faces", _faces(result)),
    )


def _stiffness(result: MechanicsResult) -> tuple[Figure, ...]:
    turn = "N·m/°"
    return (
        Figure("axial", f"Axial, {supports_text(result.supports)}", _told(result.axial_stiffness_n_per_mm, "N/mm")),
        Figure("bending-tension", "Bending, plate in tension",
               _told(result.bending_stiffness_plate_tension_nm_per_deg, turn)),
        Figure("bending-compression", "Bending, plate in compression",
               _told(result.bending_stiffness_plate_compression_nm_per_deg, turn)),
        Figure("torsion", f"Torsion, {supports_text(result.supports)}",
               _told(result.torsional_stiffness_nm_per_deg, turn)),
    )  # fmt: skip


def supports_text(supports: Supports) -> str:
    """How the ends are held, in words."""
    if supports.proximal == supports.distal:
        return "both ends held" if supports.proximal == "held" else "ball joints"
    return "proximal end held" if supports.proximal == "held" else "distal end held"


def _told(value: float | None, unit: str) -> str:
    """Three figures: more would promise more than a model estimate holds."""
    return "–" if value is None else f"{float(f'{value:.3g}'):,.10g} {unit}"


def _motion(result: MechanicsResult) -> tuple[Figure, ...]:
    figures: list[Figure] = []
    for k, line in enumerate(result.lines):
        name = f"Line {k + 1}, " if len(result.lines) > 1 else ""
        motion = line.motion
        along = (("near", motion.near_mm), ("far", motion.far_mm))
        figures += [
            Figure(f"motion-{k}-{side}", f"{name}{side} cortex".capitalize(), _moved(value)) for side, value in along
        ]
        figures.append(Figure(f"motion-{k}-shear", f"{name}shear".capitalize(), f"{_millimetres(motion.shear_mm)} mm"))
    return tuple(figures)


def _millimetres(value: float) -> str:
    return f"{value:.2f}" if value >= 0.1 else f"{value:.3f}"


def _moved(value: float) -> str:
    size = _millimetres(abs(value))
    return "0 mm" if float(size) == 0 else f"{size} mm {'closing' if value < 0 else 'opening'}"


def _plate(result: MechanicsResult) -> tuple[Figure, ...]:
    plate = result.plate
    if plate is None:
        return ()
    return (
        Figure("peak-stress", "Peak stress in the plate", f"{plate.peak_mpa:.0f} MPa at {plate.peak_s_mm:.0f} mm"),
        Figure("fatigue-ratio", "Stress swing ÷ fatigue strength", f"{plate.fatigue_ratio:.2f}"),
        Figure("yield-ratio", "Peak stress ÷ yield strength", f"{plate.yield_ratio:.2f}"),
    )


def _screws(screws: tuple[ScrewAnswer, ...]) -> tuple[Figure, ...]:
    kinds: tuple[tuple[str, str, Callable[[ScrewAnswer], float | None]], ...] = (
        ("pull-out", "Most pulled screw, of its pull-out force", lambda screw: screw.pull_out_ratio),
        ("screw-bending", "Most bent screw, of its yield", lambda screw: screw.bending_ratio),
        ("friction", "Most slipping screw, of its friction", lambda screw: screw.friction_ratio),
    )
    return tuple(Figure(name, label, _worst(screws, read)) for name, label, read in kinds)


def _worst(screws: tuple[ScrewAnswer, ...], read: Callable[[ScrewAnswer], float | None]) -> str:
    found = [(value, screw.id) for screw in screws if (value := read(screw)) is not None]
    if not found:
        return "no such screw"
    value, name = max(found)
    return f"{name}: {100 * value:.0f} %"


def _faces(result: MechanicsResult) -> tuple[Figure, ...]:
    figures: list[Figure] = []
    for k, line in enumerate(result.lines):
        name = f"Line {k + 1}, " if len(result.lines) > 1 else ""
        figures += [
            Figure(f"faces-{k}", f"{name}under load".capitalize(), _touching(line.interface)),
            Figure(f"opens-{k}", f"{name}opens at".capitalize(), _opens(line.interface)),
        ]
    return tuple(figures)


def _touching(interface: InterfaceAnswer) -> str:
    if interface.closed:
        return "closed"
    if interface.near_closed or interface.far_closed:
        return f"only the {'near' if interface.near_closed else 'far'} cortex touches"
    return "open"


def _opens(interface: InterfaceAnswer) -> str:
    """The multiple of the load, said as load where that has a part along the axis."""
    if interface.margin is None or interface.opens_at_factor is None:
        return "nothing pressed it" if interface.preload_n <= 0 else "stays pressed"
    share = f"{100 * interface.opens_at_factor:.0f} % of the load"
    force = "" if interface.opens_at_n is None else f"{interface.opens_at_n:,.0f} N, "
    return f"{force}{share} (margin {100 * interface.margin:+.0f} %)"


def _form(bone: str, loading: Loading) -> LoadForm:
    presets = load_presets()[bone]
    own = loading.stage == OWN
    figure = None if own else presets[loading.stage].figure
    return LoadForm(
        stage=loading.stage,
        stages=(*((stage, presets[stage].label) for stage in STAGES), (OWN, "own figures")),
        fields=(
            Field("axial_n", "Axial", "N", loading.axial_n, *AXIAL_N),
            Field("bending_nm", "Bending", "N·m", loading.bending_nm, *BENDING_NM),
            Field("torsion_nm", "Torsion", "N·m", loading.torsion_nm, *TORSION_NM),
        ),
        supports=(
            ("proximal", "Proximal end", loading.supports.proximal),
            ("distal", "Distal end", loading.supports.distal),
        ),
        source="typed in here" if figure is None else figure.source,
        standing="own" if figure is None else figure.standing,
    )
