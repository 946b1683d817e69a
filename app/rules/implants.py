"""Do plate and screws fit the bone: width, the series usual for it, and the thickness of its screws?"""

import math
from collections.abc import Iterator

from app.case.edits import SetLag, SetPlate
from app.catalogue.models import PlateSeries
from app.geometry import Layout, ScrewPath
from app.rules.after import after
from app.rules.edits import listed, remedy
from app.rules.facts import named
from app.rules.registry import Finding, Registry, Remedy, RuleInput

IMPLANT_RULES = Registry()
STEP_MM = 2.0  # between the places at which the bone's width is looked at


def overhang_mm(layout: Layout) -> tuple[float, float]:
    """How far the plate stands over the bone's edge on either side where it does so most (mm), and at which ``s``."""
    start, end = layout.plate_ends_mm
    count = max(1, round((end - start) / STEP_MM))
    places = [start + (end - start) * i / count for i in range(count + 1)]
    narrow = min(places, key=layout.shape.width)
    return (layout.series.width_mm - layout.shape.width(narrow)) / 2, narrow


@IMPLANT_RULES.rule(
    "implant-fit",
    "caution",
    says="The plate lies within the bone's width, is of a series usual for this bone, and its screws are no thicker "
    "than the bone bears.",
    why="A plate wider than the bone has no bed, and its edges stand in the soft tissue. One much stronger or weaker "
    "than usual shields the bone or breaks; a hole that takes much of the bone's width is where it breaks next.",
    source="width by geometry; series of each bone with its own source; screws up to about 40 % of the bone from "
    "memory",
    standing="common practice",
    on="none",
)
def implant_fit(judged: RuleInput) -> Iterator[Finding]:
    """A plate that overhangs (stop), a series not usual here, screws too thick for the bone (caution)."""
    yield from _plate(judged)
    yield from _thick(judged)


def _plate(judged: RuleInput) -> Iterator[Finding]:
    layout, usual = judged.layout, judged.layout.bone.usual_series
    over, at = overhang_mm(layout)
    bone = layout.bone.label.lower()
    if round(over, 1) > judged.thresholds.value("implant-fit", "overhang_mm"):  # as it is shown
        message = (
            f"The plate is {layout.series.width_mm:g} mm wide, the {bone} only {layout.shape.width(at):.1f} mm at "
            f"{at:.0f} mm: it stands over the edge by {over:.1f} mm on either side."
        )
        # geometry, not the tolerance, is what stops it: there is no bone under the plate's edges
        yield Finding(message, ("plate",), "stop", _usual_plate(judged))
    elif layout.construct.plate.series not in usual:
        labels = [judged.catalogue.series[key].label for key in usual if key in judged.catalogue.series]
        figure = layout.bone.figures["usual_series"]
        message = f"{layout.series.label}: not usual on the {bone}. Usual there: {listed(labels)}."
        yield Finding(message, ("plate",), None, _usual_plate(judged), f"{figure.source} ({figure.standing})")


def _usual_plate(judged: RuleInput) -> Remedy | None:
    """The first usual series in which every screw holds what it held; None where there is none."""
    for key in judged.layout.bone.usual_series if not judged.trial else ():
        series = judged.catalogue.series.get(key)
        if series is not None and (edit := _in_series(judged, series)) is not None:
            return remedy(f"Take the {series.label}", [edit])
    return None


def _in_series(judged: RuleInput, series: PlateSeries) -> SetPlate | None:
    """The same holes in another plate, where it is made so and every screw keeps its fragment, clear of the line."""
    plate, takes = judged.construct.plate, series.roles()
    if plate.holes not in series.holes_made or any(hole.role not in takes for hole in judged.construct.holes):
        return None
    edit = SetPlate(target=judged.target, series=series.key, holes=plate.holes)
    then = after(judged, edit)
    if then is None:
        return None
    layout = then.layout
    if overhang_mm(layout)[0] > judged.thresholds.value("implant-fit", "overhang_mm"):
        return None
    same = all(_keeps(judged, one, layout.screw(one.id)) for one in judged.layout.screws)
    return edit if same else None


def _keeps(judged: RuleInput, before: ScrewPath, after: ScrewPath) -> bool:
    if before.role == "lag":
        return before.owners == after.owners
    least = judged.thresholds.value("near-fracture", "clearance_diameters") * after.spec.thread_mm
    clear = after.clear_of_fracture_mm >= min(least, before.clear_of_fracture_mm)
    return before.home == after.home and before.crosses_fracture == after.crosses_fracture and clear


def _share(judged: RuleInput, screw: ScrewPath) -> float:
    shape = judged.layout.shape
    return screw.spec.thread_mm / min(shape.depth(screw.s_mm), shape.width(screw.s_mm))


def usual_thread_mm(judged: RuleInput) -> float:
    """The thickest cortex screw of the plates usual on this bone, mm."""
    catalogue = judged.catalogue
    usual = [catalogue.series[key] for key in judged.layout.bone.usual_series if key in catalogue.series]
    return max((catalogue.screws[series.cortex_screw].thread_mm for series in usual), default=math.inf)


def _thick(judged: RuleInput) -> Iterator[Finding]:
    """Screws too thick where they stand, and independent lag screws thicker than this bone's plates use."""
    limit, most = judged.thresholds.value("implant-fit", "screw_share_max"), usual_thread_mm(judged)
    wide = [screw for screw in judged.layout.screws if round(_share(judged, screw), 2) > limit]
    odd = [s for s in judged.layout.screws if s.hole is None and s.spec.thread_mm > most and s not in wide]
    if not wide and not odd:
        return
    told = []
    if wide:
        shares = listed(f"{named(one)} ({one.spec.thread_mm:g} mm, {100 * _share(judged, one):.0f} %)" for one in wide)
        told.append(f"Thicker than about {100 * limit:.0f} % of the bone where they stand (from memory): {shares}.")
    if odd:
        sizes = listed(f"{named(one)} ({one.spec.thread_mm:g} mm)" for one in odd)
        told.append(
            f"Thicker than the {most:g} mm of the plates usual on the {judged.layout.bone.label.lower()}: {sizes}."
        )
    thick = [*wide, *odd]
    yield Finding(" ".join(told), tuple(one.id for one in thick), None, _thinner(judged, thick))


def _thinner(judged: RuleInput, thick: list[ScrewPath]) -> Remedy | None:
    """Thinner lag screws, where only screws beside the plate are too thick; those in holes come with the plate."""
    limit = judged.thresholds.value("implant-fit", "screw_share_max")
    edits = []
    for one in thick:
        if one.hole is not None:
            return None
        most = min(limit * one.spec.thread_mm / _share(judged, one), usual_thread_mm(judged))
        fit = [s for s in judged.catalogue.screws.values() if s.kind == "cortex" and s.thread_mm <= most]
        size = max(fit, key=lambda screw: screw.thread_mm, default=None)
        if size is None:
            return None
        index = int(one.id[1:]) - 1
        lag = judged.construct.lag_screws[index]
        edits.append(
            SetLag(target=judged.target, lag=index, position_mm=lag.position_mm, tilt_deg=lag.tilt_deg, screw=size.key)
        )
    return remedy(f"Take thinner lag screw{'s' if len(edits) > 1 else ''}", edits)
