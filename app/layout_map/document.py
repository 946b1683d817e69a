"""The map as a document and as a table of lines."""

import csv
import io
from typing import Any

import numpy as np

from app.layout_map.counting import COUNTED
from app.layout_map.shape import FIXED, FORMAT, MapDocument
from app.layout_map.table import LayoutTable
from app.mechanics.document import ESTIMATE, rounded

LEVEL_NAMES = ("none", "note", "caution", "stop")
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
    return [None if np.isnan(value) else rounded(value) for value in values.tolist()]


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
