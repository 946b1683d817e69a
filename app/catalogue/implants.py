"""Reading plate series and screws, shipped or from the user's own stock, and checking that they fit each other."""

from typing import Any, cast, get_args

from app.catalogue.figures import all_figures
from app.catalogue.models import Figure, HoleKind, PlateSeries, ScrewKind, ScrewSpec
from app.catalogue.tables import Table

MIN_HOLES, MAX_HOLES = 2, 24

SERIES_MM: dict[str, tuple[float, float]] = {
    "width_mm": (3, 40),
    "thickness_mm": (0.5, 12),
    "pitch_mm": (4, 40),
    "centre_spacing_mm": (4, 60),
    "end_mm": (2, 40),
    "seat_mm": (0, 15),
    "hole_mm": (1, 15),
    "slot_mm": (1, 35),
    "travel_mm": (0, 3),
    "reach_deg": (0, 45),
}
SCREW_MM: dict[str, tuple[float, float]] = {
    "thread_mm": (1, 8),
    "core_mm": (0.5, 7.5),
    "pitch_mm": (0.2, 5),
    "head_mm": (1.5, 15),
    "thread_drill_mm": (0.5, 8),
}
SCREW_OPTIONAL: dict[str, tuple[float, float]] = {
    "gliding_drill_mm": (1, 8.5),
    "tap_mm": (1, 8.5),
    "torque_nm": (0.1, 20),
}
STAGGER_MM = (0.0, 6.0)
SERIES_FIGURED = (*SERIES_MM, "holes_made")
SERIES_KEYS = {
    *SERIES_FIGURED,
    "stagger_mm",
    "label",
    "hole_kind",
    "cortex_screw",
    "locking_screw",
    "material",
    "figure",
    "figures",
}
SCREW_KEYS = {*SCREW_MM, *SCREW_OPTIONAL, "label", "kind", "drive", "stock_mm", "material", "figure", "figures"}


def read_screw(key: str, table: Table, known: dict[str, Figure], materials: tuple[str, ...]) -> ScrewSpec:
    """One screw. ``stock_mm`` is written as ranges, each ``[from, to, step]``."""
    table.only(SCREW_KEYS)
    given = [name for name in SCREW_OPTIONAL if name in table.values]
    numbers: dict[str, Any] = {name: table.number(name, *span) for name, span in SCREW_MM.items()}
    screw = ScrewSpec(
        key=key,
        label=table.text("label"),
        kind=cast(ScrewKind, table.choice("kind", get_args(ScrewKind))),
        **numbers,
        gliding_drill_mm=table.optional("gliding_drill_mm", *SCREW_OPTIONAL["gliding_drill_mm"]),
        tap_mm=table.optional("tap_mm", *SCREW_OPTIONAL["tap_mm"]),
        torque_nm=table.optional("torque_nm", *SCREW_OPTIONAL["torque_nm"]),
        drive=table.text("drive"),
        stock_mm=_stock(table),
        material=table.choice("material", materials),
        figures=all_figures(table, known, (*SCREW_MM, *given, "stock_mm", "drive")),
    )
    _check_screw(screw, table)
    return screw


def _stock(table: Table) -> tuple[float, ...]:
    lengths: set[float] = set()
    for low, high, step in table.rows("stock_mm", 3, 0.5, 250):
        if high < low:
            raise table.fault("stock_mm", "each range is [from, to, step], with from <= to")
        lengths |= {round(low + n * step, 3) for n in range(int((high - low) / step + 1e-9) + 1)}
    return tuple(sorted(lengths))


def _check_screw(screw: ScrewSpec, table: Table) -> None:
    if not screw.core_mm < screw.thread_mm < screw.head_mm:
        raise table.fault("thread_mm", "must lie between core_mm and head_mm")
    if screw.thread_drill_mm >= screw.thread_mm:
        raise table.fault("thread_drill_mm", f"must be less than the thread, {screw.thread_mm:g}")
    if screw.kind == "locking" and screw.gliding_drill_mm is not None:
        raise table.fault("gliding_drill_mm", "a locking screw has none")
    if screw.kind == "locking" and screw.torque_nm is None:
        raise table.fault("torque_nm", "a locking screw needs its torque limit, 0.1 to 20")
    if screw.kind == "cortex" and (screw.gliding_drill_mm is None or screw.gliding_drill_mm < screw.thread_mm):
        raise table.fault("gliding_drill_mm", f"a cortex screw needs one of at least its thread, {screw.thread_mm:g}")


def read_series(
    key: str, table: Table, known: dict[str, Figure], screws: dict[str, ScrewSpec], materials: tuple[str, ...]
) -> PlateSeries:
    """One plate series, whose screws and material must exist."""
    table.only(SERIES_KEYS)
    numbers: dict[str, Any] = {name: table.number(name, *span) for name, span in SERIES_MM.items()}
    by_kind = {kind: [s.key for s in screws.values() if s.kind == kind] for kind in get_args(ScrewKind)}
    series = PlateSeries(
        key=key,
        label=table.text("label"),
        **numbers,
        hole_kind=cast(HoleKind, table.choice("hole_kind", get_args(HoleKind))),
        holes_made=table.whole_numbers("holes_made", MIN_HOLES, MAX_HOLES),
        cortex_screw=table.choice("cortex_screw", by_kind["cortex"]),
        locking_screw=table.choice("locking_screw", by_kind["locking"]) if "locking_screw" in table.values else None,
        material=table.choice("material", materials),
        stagger_mm=table.optional("stagger_mm", *STAGGER_MM) or 0.0,
        figures=all_figures(
            table, known, (*SERIES_FIGURED, *(name for name in ("stagger_mm",) if name in table.values))
        ),
    )
    _check_holes(series, table)
    _check_screws_fit(series, table, screws)
    return series


def _check_holes(series: PlateSeries, table: Table) -> None:
    # A loaded screw needs its travel to either side; metal must be left between the holes and at their sides.
    low = series.hole_mm + 2 * series.travel_mm
    high = min(series.pitch_mm, series.centre_spacing_mm, 2 * series.end_mm)
    if not low <= series.slot_mm < high:
        raise table.fault("slot_mm", f"must be at least {low:g} (hole + 2 x travel) and less than {high:g}")
    if series.hole_mm >= series.width_mm:
        raise table.fault("hole_mm", f"must be less than the width, {series.width_mm:g}")
    if series.stagger_mm > (room := (series.width_mm - series.hole_mm) / 2 - 1):
        raise table.fault("stagger_mm", f"must be at most {max(room, 0):g}, so that 1 mm is left beside each hole")
    if series.hole_kind == "round" and (series.slot_mm != series.hole_mm or series.travel_mm):
        raise table.fault("slot_mm", "a round hole is as long as it is wide, and its travel_mm is 0")
    if (series.hole_kind == "combination") != (series.locking_screw is not None):
        raise table.fault("locking_screw", "belongs to combination holes, and only to them")


def _check_screws_fit(series: PlateSeries, table: Table, screws: dict[str, ScrewSpec]) -> None:
    for key in (series.cortex_screw, series.locking_screw):
        if key is None:
            continue
        screw = screws[key]
        if not screw.thread_mm < series.hole_mm < screw.head_mm:
            span = f"{screw.thread_mm:g} and {screw.head_mm:g}"
            raise table.fault("hole_mm", f"must lie between thread and head of {key}, {span}")
