"""The map as a document, ``fishplate-map/1``, and as a table of lines."""

import csv
import io
from typing import Any, Literal

import numpy as np
from pydantic import TypeAdapter, with_config
from typing_extensions import TypedDict

from app.case.closed import CLOSED
from app.layout_map.counting import COUNTED
from app.layout_map.table import LayoutTable
from app.mechanics.document import ESTIMATE, SIGNIFICANT, SupportsDocument

FORMAT: Literal["fishplate-map/1"] = "fishplate-map/1"
FIXED = (
    "For the plate as it lies: loads, supports and the role of each hole are held fixed. Filled holes keep their "
    "screw; empty ones take the usual one."
)
LEVEL_NAMES = ("none", "note", "caution", "stop")


@with_config(CLOSED)
class MapHoleDocument(TypedDict):
    """A hole that may be filled."""

    hole: int
    role: str
    filled_now: bool


@with_config(CLOSED)
class MapLoadDocument(TypedDict):
    """What the layouts bear."""

    axial_n: float
    bending_nm: float
    torsion_nm: float


@with_config(CLOSED)
class MapFiguresDocument(TypedDict):
    """Figures by layout; null where a layout has none."""

    axial_stiffness_n_per_mm: list[float | None]
    torsional_stiffness_nm_per_deg: list[float | None]
    near_strain_percent: list[float | None]
    far_strain_percent: list[float | None]
    peak_stress_mpa: list[float | None]
    pull_out_ratio: list[float | None]
    screw_bending_ratio: list[float | None]


@with_config(CLOSED)
class MapDocument(TypedDict):
    """All layouts of one construct: number b has a screw in the k-th of ``holes`` where bit k of b is 1.

    ``level``: the gravest of the rules that count, 0 none, 1 note, 2 caution, 3 stop.
    """

    format: Literal["fishplate-map/1"]
    note: str
    fixed: str
    construct: int
    holes: list[MapHoleDocument]
    left_out: list[int]
    supports: SupportsDocument
    load: MapLoadDocument
    now: int
    screws: list[int]
    unstable: list[bool]
    not_computed: list[bool]
    level: list[int]
    rules: list[str]
    figures: MapFiguresDocument


_FIGURES = {
    "axial_stiffness_n_per_mm": "axial_stiffness",
    "torsional_stiffness_nm_per_deg": "torsional_stiffness",
    "near_strain_percent": "near_strain",
    "far_strain_percent": "far_strain",
    "peak_stress_mpa": "peak_stress",
    "pull_out_ratio": "pull_out",
    "screw_bending_ratio": "screw_bending",
}


def map_document(table: LayoutTable) -> MapDocument:
    """The map as plain values; figures have four significant digits."""
    found, filling, loading = table.found, table.filling, table.loading
    return {
        "format": FORMAT,
        "note": ESTIMATE,
        "fixed": FIXED,
        "construct": filling.before.target,
        "holes": [
            {"hole": hole, "role": filling.judged.construct.holes[hole - 1].role, "filled_now": hole in filling.now}
            for hole in found.holes
        ],
        "left_out": list(filling.left_out),
        "supports": {"proximal": loading.supports.proximal, "distal": loading.supports.distal},
        "load": {"axial_n": loading.axial_n, "bending_nm": loading.bending_nm, "torsion_nm": loading.torsion_nm},
        "now": table.now,
        "screws": found.screws.tolist(),
        "unstable": found.unstable.tolist(),
        "not_computed": found.unsolved.tolist(),
        "level": table.level.tolist(),
        "rules": list(COUNTED),
        "figures": {name: _rounded(getattr(found.figures, of)) for name, of in _FIGURES.items()},  # type: ignore[typeddict-item]
    }


def _rounded(values: Any) -> list[float | None]:
    return [None if np.isnan(value) else float(f"{value:.{SIGNIFICANT}g}") for value in values.tolist()]


def map_csv(table: LayoutTable) -> str:
    """The map as a table of lines, one for each layout, after a line of headings (RFC 4180)."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["layout", "holes", "screws", "state", *_FIGURES, *COUNTED])
    columns = [_rounded(getattr(table.found.figures, of)) for of in _FIGURES.values()]
    levels = [[LEVEL_NAMES[level] for level in table.levels[rule].tolist()] for rule in COUNTED]
    states = np.where(table.found.unstable, "unstable", np.where(table.found.unsolved, "not computed", "solved"))
    screws = table.found.screws.tolist()
    for number, state in enumerate(states.tolist()):
        holes = " ".join(map(str, table.found.filled(number)))
        figures = ["" if column[number] is None else column[number] for column in columns]
        writer.writerow([number, holes, screws[number], state, *figures, *(level[number] for level in levels)])
    return out.getvalue()


def map_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of the document."""
    found = TypeAdapter(MapDocument).json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found, "title": FORMAT}
