"""What stands in for a stored case whose plate or screws are no longer in stock, so that it opens all the same.

A case is stored as it was accepted. The department's stock, and the tables of a later version, may have changed since:
then the nearest construct that can be drawn is shown in its place, and the rule ``in-stock`` says what is missing.
Nothing here is ever stored by itself.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from app.case.faults import Fault
from app.case.models import Case, Construct, FractureLine, Hole, LagScrew, Plate
from app.catalogue.models import BoneSpec, Catalogue, PlateSeries
from app.geometry.limits import END_MARGIN_MM, check_case, plate_range
from app.geometry.plate import plate_length


@dataclass(frozen=True, slots=True)
class StandIn:
    """A case that can be drawn, and for each construct what of the stored one can not (empty where all can)."""

    case: Case
    missing: tuple[tuple[Fault, ...], ...]


def stand_in(case: Case, catalogue: Catalogue) -> StandIn | None:
    """The nearest case that can be drawn; the case itself where nothing is missing, None where none is found."""
    faults = check_case(case, catalogue)
    missing = tuple(tuple(_of(i, faults)) for i in range(len(case.constructs)))
    constructs = tuple(
        _mended(construct, catalogue) if told else construct
        for construct, told in zip(case.constructs, missing, strict=True)
    )
    # under a plate on another surface an oblique line may be longer than there is room for: the usual one is tried last
    usual = tuple(
        construct.model_copy(update={"plate": construct.plate.model_copy(update={"surface": None})})
        if told
        else construct
        for construct, told in zip(constructs, missing, strict=True)
    )
    for tried in (constructs, usual):
        shown = case.model_copy(update={"constructs": tried})
        if not check_case(shown, catalogue):
            return StandIn(shown, missing)
    return None


def _of(index: int, faults: tuple[Fault, ...]) -> Iterator[Fault]:
    prefix = f"constructs.{index}."
    return (Fault(fault.path.removeprefix(prefix), fault.message) for fault in faults if fault.path.startswith(prefix))


def _mended(construct: Construct, catalogue: Catalogue) -> Construct:
    spec = catalogue.bones[construct.bone.name]
    bone = construct.bone.model_copy(
        update={
            "length_mm": _within(construct.bone.length_mm, spec.length_range_mm),
            "midshaft_depth_mm": _within(construct.bone.midshaft_depth_mm, spec.depth_range_mm),
        }
    )
    length = bone.length_mm or spec.length_mm
    series, holes = _nearest_plate(construct, spec, catalogue, length)
    centre = _within(construct.plate.centre_mm, plate_range(series, holes, length))
    plate = construct.plate.model_copy(update={"series": series.key, "holes": holes, "centre_mm": centre})
    return _whole(construct, plate, length, series, catalogue).model_copy(update={"bone": bone})


def _within(value: float | None, span: tuple[float, float]) -> float | None:
    return None if value is None else min(max(value, span[0]), span[1])


def _nearest_plate(
    construct: Construct, spec: BoneSpec, catalogue: Catalogue, length_mm: float
) -> tuple[PlateSeries, int]:
    """The plate's own series if it is there, else one usual for the bone; as many holes as come nearest."""
    own = catalogue.series.get(construct.plate.series)
    usual = [catalogue.series[key] for key in spec.usual_series if key in catalogue.series]
    wanted = construct.plate.holes
    for series in (*([own] if own else []), *usual, *catalogue.series.values()):
        fits = [n for n in series.holes_made if plate_length(series, n) <= length_mm]
        if fits:
            return series, min(fits, key=lambda n: (abs(n - wanted), n))
    return next(iter(catalogue.series.values())), wanted


def _whole(
    construct: Construct, plate: Plate, length_mm: float, series: PlateSeries, catalogue: Catalogue
) -> Construct:
    """The construct with this plate: as many holes as it has, screws that are made, everything on the bone."""
    holes = (*construct.holes[: plate.holes], *(Hole(),) * (plate.holes - len(construct.holes)))
    cortex = {key for key, screw in catalogue.screws.items() if screw.kind == "cortex"}
    on_bone = END_MARGIN_MM, length_mm - END_MARGIN_MM
    lags = tuple(_lag(lag, cortex, series, on_bone) for lag in construct.lag_screws)
    whole = construct.model_copy(update={"plate": plate, "holes": holes, "lag_screws": lags, "order": None})
    if construct.order is not None and sorted(construct.order) == sorted(whole.screw_ids):
        whole = whole.model_copy(update={"order": construct.order})
    fracture = construct.fracture.model_copy(
        update={"lines": tuple(_line(line, on_bone) for line in construct.fracture.lines)}
    )
    return whole.model_copy(update={"fracture": fracture})


def _lag(lag: LagScrew, cortex: set[str], series: PlateSeries, on_bone: tuple[float, float]) -> LagScrew:
    return lag.model_copy(
        update={
            "screw": lag.screw if lag.screw in cortex else series.cortex_screw,
            "position_mm": _within(lag.position_mm, on_bone),
        }
    )


def _line(line: FractureLine, on_bone: tuple[float, float]) -> FractureLine:
    return line.model_copy(update={"position_mm": _within(line.position_mm, on_bone)})
