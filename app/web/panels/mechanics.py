"""The mechanics panel: a strain gauge, stiffness, motion, stress and hold, each with what it was before the edit."""

import math
from dataclasses import dataclass
from typing import Any

from app.assess import ConstructAssessment, Knowledge
from app.catalogue.loads import STAGES, load_presets
from app.figures import Figure
from app.figures.bands import Banded, band_text, banded, same_way
from app.figures.mechanics import (
    AXIAL,
    AXIAL_LOAD,
    BENDING_COMPRESSION,
    BENDING_LOAD,
    BENDING_TENSION,
    FACES,
    MOVED,
    OPENS,
    OPENS_FACTOR,
    PEAK,
    PEAK_AT,
    RATIOS,
    STRAIN_FAR,
    STRAIN_NEAR,
    SUPPORTED,
    TORSION,
    TORSION_LOAD,
    WORST,
    supports_text,
    worst_told,
)
from app.mechanics import LineAnswer, MechanicsResult
from app.mechanics.document import ESTIMATE
from app.mechanics.events import events
from app.mechanics.of_layout import Loading, left_out
from app.web.panels.loading import AXIAL_N, BENDING_NM, OWN, TORSION_NM, Loads, query_of
from app.web.panels.summary import ShownFigure, with_was

GAUGE_PERCENT = (0.1, 1000.0)
STIFFNESS_SHOWN = (AXIAL, BENDING_TENSION, BENDING_COMPRESSION, TORSION)


@dataclass(frozen=True, slots=True)
class Mark:
    """Strain at one cortex. ``place``: along the gauge, percent of its length; None where there is no strain."""

    side: str
    words: str
    brief: str
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
    """What the panel shows; without ``unstable`` the rest of the figures is there.

    ``events``: what lets a figure jump from the layout before to this one.
    """

    note: str
    unstable: str | None
    bands: tuple[Band, ...]
    gauges: tuple[Gauge, ...]
    groups: tuple[tuple[str, tuple[ShownFigure, ...]], ...]
    events: tuple[str, ...]
    left_out: str
    ratio: str | None
    form: LoadForm
    loads: list[dict[str, Any]]
    query: str


def place_on_gauge(percent: float) -> float:
    """Where a strain lies along the gauge, percent of its length: log scale, pinned at both ends."""
    low, high = (math.log10(end) for end in GAUGE_PERCENT)
    inside = min(max(abs(percent), GAUGE_PERCENT[0]), GAUGE_PERCENT[1])
    return 100 * (math.log10(inside) - low) / (high - low)


def of_same_bone(before: ConstructAssessment | None, one: ConstructAssessment) -> ConstructAssessment | None:
    """What was before, where its figures can be compared: those of another bone say nothing."""
    return before if before is not None and before.construct.bone.name == one.construct.bone.name else None


def mechanics_view(
    one: ConstructAssessment, loads: Loads, knowledge: Knowledge, before: ConstructAssessment | None = None
) -> MechanicsView | None:
    """The panel of one construct; None where its mechanics were not worked out."""
    result, loading = one.mechanics, one.loading
    if result is None or loading is None:
        return None
    before = of_same_bone(before, one)
    old = None if before is None else before.mechanics
    stable = result.unstable is None
    earlier = {} if old is None else {figure.id: figure.text for _, group in _groups(old) for figure in group}
    return MechanicsView(
        note=ESTIMATE,
        unstable=result.unstable,
        bands=bands_of(knowledge),
        gauges=gauges_of(result),
        groups=tuple((name, with_was(group, earlier)) for name, group in _groups(result)) if stable else (),
        events=() if before is None or old is None else events(before.layout, old, one.layout, result),
        left_out=left_out(one.layout),
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
    if now is None or was is None or old.supports != result.supports or AXIAL.text(result) == AXIAL.text(old):
        return None
    return f"× {now / was:.2f} of the layout before"


def bands_of(knowledge: Knowledge) -> tuple[Band, ...]:
    """What the tissues bear, along a gauge."""
    names = ("bone", "fibrocartilage", "granulation")
    limits = [knowledge.thresholds.value("strain-too-high", f"{name}_max_percent") for name in names]
    edges = [0.0, *(place_on_gauge(limit) for limit in limits), 100.0]
    told = (*(f"up to {limit:g} %" for limit in limits), f"above {limits[-1]:g} %")
    labels = ("bone", "fibro\u00adcartilage", "granu\u00adlation", "no tissue")
    return tuple(
        Band(name, limit, start, end - start)
        for name, limit, start, end in zip(labels, told, edges[:-1], edges[1:], strict=True)
    )


def gauges_of(result: MechanicsResult) -> tuple[Gauge, ...]:
    """One gauge for each fracture line."""
    many = len(result.lines) > 1
    return tuple(
        Gauge(f"gauge-{k}", f"Fracture line {k + 1}" if many else "", (_mark(line, "near"), _mark(line, "far")))
        for k, line in enumerate(result.lines)
    )


def _mark(line: LineAnswer, side: str) -> Mark:
    figure = STRAIN_NEAR if side == "near" else STRAIN_FAR
    strain = line.strain.near_percent if side == "near" else line.strain.far_percent
    if strain is None:
        return Mark(side, "closed: the faces touch, so there is no gap to strain", "closed", None)
    shut = line.interface.near_closed if side == "near" else line.interface.far_closed
    until = " until the faces touch" if shut and strain <= 0 else ""
    return Mark(side, f"{figure.said(line)}{until}", figure.said(line), place_on_gauge(strain))


def _groups(result: MechanicsResult) -> tuple[tuple[str, tuple[ShownFigure, ...]], ...]:
    return (
        (AXIAL.group, tuple(_stiffness(figure, result) for figure in STIFFNESS_SHOWN)),
        ("Motion at the fracture", _of_lines(MOVED, result)),
        ("Plate and screws", (*_plate(result), *_screws(result))),
        ("Fracture faces", _of_lines((FACES, OPENS), result)),
    )


def _stiffness(figure: Figure[MechanicsResult], result: MechanicsResult) -> ShownFigure:
    label = f"{figure.label}, {supports_text(result.supports)}" if figure.id in SUPPORTED else figure.label
    return ShownFigure(figure.id, label, figure.told(result))


def _of_lines(table: tuple[Figure[LineAnswer], ...], result: MechanicsResult) -> tuple[ShownFigure, ...]:
    """Figures line by line; where there are several lines, each says its number."""
    figures: list[ShownFigure] = []
    for k, line in enumerate(result.lines):
        for figure in table:
            label = figure.worded or figure.label
            if len(result.lines) > 1:
                label = f"Line {k + 1}, {label[0].lower()}{label[1:]}"
            kind, *side = figure.id.split("-")
            figures.append(ShownFigure("-".join((kind, str(k), *side)), label, figure.said(line)))
    return tuple(figures)


def _plate(result: MechanicsResult) -> tuple[ShownFigure, ...]:
    if result.plate is None:
        return ()
    return (
        ShownFigure(PEAK.id, PEAK.full_name, f"{PEAK.told(result)} at {PEAK_AT.told(result)}"),
        *(ShownFigure(figure.id, figure.full_name, figure.told(result)) for figure in RATIOS),
    )


def _screws(result: MechanicsResult) -> tuple[ShownFigure, ...]:
    return tuple(ShownFigure(figure.id, figure.full_name, worst_told(figure, result)) for figure in WORST)


Answers = tuple[MechanicsResult, tuple[MechanicsResult, ...]]  # the usual one, and one for each draw


def band_texts(now: Answers) -> dict[str, str]:
    """The bands in words, by the ids that their figures have in the panel; none for what looks the same in all."""
    found = {}
    for one in banded(*now):
        text, id_ = band_text(one.figure, one.band), _id_of(one)
        if id_ is not None and text:
            found[id_] = f"{text} {one.figure.unit}" if one.figure is OPENS_FACTOR else text
    return found


def change_texts(now: Answers, earlier: Answers) -> dict[str, str]:
    """In how many draws a figure that looks other than before differs the same way, by its id in the panel."""
    if len(earlier[1]) != len(now[1]) or len(earlier[0].lines) != len(now[0].lines):
        return {}
    told = ((_id_of(one), _held(one, now, earlier)) for one in banded(*now))
    return {id_: text for id_, text in told if id_ is not None and text}


def _id_of(one: Banded) -> str | None:
    """The id of a figure in the panel; None where it is not there."""
    kind, *side = one.figure.id.split("-")
    if one.line is None:
        return one.figure.id if one.figure in (*STIFFNESS_SHOWN, PEAK, *RATIOS, *WORST) else None
    if one.figure in (STRAIN_NEAR, STRAIN_FAR):
        return f"gauge-{one.line}-{side[0]}"
    if one.figure in MOVED:
        return "-".join((kind, str(one.line), *side))
    return f"{OPENS.id}-{one.line}" if one.figure is OPENS_FACTOR else None


def _held(one: Banded, now: Answers, earlier: Answers) -> str:
    """In how many draws a figure that changed did so the same way, by its size; empty where it looks the same."""

    def of(result: MechanicsResult) -> Any:
        return result if one.line is None else result.lines[one.line]

    def grown(was: MechanicsResult, is_: MechanicsResult) -> float | None:
        old, new = one.figure.read(of(was)), one.figure.read(of(is_))
        return abs(new) - abs(old) if isinstance(old, float) and isinstance(new, float) else None

    usual = grown(earlier[0], now[0])
    if not usual or one.figure.text(of(now[0])) == one.figure.text(of(earlier[0])):
        return ""
    each = [grown(was, is_) for was, is_ in zip(earlier[1], now[1], strict=True)]
    same = same_way(usual, each)
    many = f"all {same}" if same == len(each) else f"{same} of {len(each)}"
    return f"{'more' if usual > 0 else 'less'} in {many} draws"


def _form(bone: str, loading: Loading) -> LoadForm:
    presets = load_presets()[bone]
    own = loading.stage == OWN
    figure = None if own else presets[loading.stage].figure
    return LoadForm(
        stage=loading.stage,
        stages=(*((stage, presets[stage].label) for stage in STAGES), (OWN, "own figures")),
        fields=(
            Field("axial_n", AXIAL_LOAD.label, AXIAL_LOAD.unit, loading.axial_n, *AXIAL_N),
            Field("bending_nm", BENDING_LOAD.label, BENDING_LOAD.unit, loading.bending_nm, *BENDING_NM),
            Field("torsion_nm", TORSION_LOAD.label, TORSION_LOAD.unit, loading.torsion_nm, *TORSION_NM),
        ),
        supports=(
            ("proximal", "Proximal end", loading.supports.proximal),
            ("distal", "Distal end", loading.supports.distal),
        ),
        source="typed in here" if figure is None else figure.source,
        standing="own" if figure is None else figure.standing,
    )
