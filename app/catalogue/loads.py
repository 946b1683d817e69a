"""Loads: presets by bone and stage of rehabilitation (N, N·m), and the forces that tightening makes; with sources."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from app.case.models import BONES
from app.catalogue.figures import sources
from app.catalogue.models import Figure
from app.catalogue.tables import read

FILE = Path(__file__).parent / "data" / "loads.toml"
STAGES = ("protected", "partial", "full")


@dataclass(frozen=True, slots=True)
class LoadPreset:
    """What acts on the shaft at one stage: compression, bending with the plate side in tension, torsion (N, N·m)."""

    stage: str
    label: str
    axial_n: float
    bending_nm: float
    torsion_nm: float
    figure: Figure


@lru_cache(maxsize=1)
def load_presets() -> dict[str, dict[str, LoadPreset]]:
    """Presets by bone name, then stage.

    Raises:
        CatalogueError: the shipped file is faulty.
    """
    file = read(FILE)
    known = sources(file)
    labels = file.table("stages")
    loads = file.table("loads")
    found: dict[str, dict[str, LoadPreset]] = {}
    for bone in BONES:
        table = loads.table(bone)
        found[bone] = {}
        for stage in STAGES:
            row = table.table(stage)
            found[bone][stage] = LoadPreset(
                stage,
                labels.text(stage),
                row.number("axial_n", 0, 20_000),
                row.number("bending_nm", 0, 500),
                row.number("torsion_nm", 0, 500),
                known[row.choice("figure", tuple(known))],
            )
    return found


@dataclass(frozen=True, slots=True)
class Tightening:
    """What tightening does.

    Coefficients of friction (plate on bone, bone on bone, head on plate), torque of a 4.5 mm cortex screw (N·m), K of
    F = T/(K·D), the most of its pull-out force that a screw presses with, and the slope of a compression hole under
    its head (degrees). ``figures`` holds the source of each.
    """

    friction_plate_bone: float
    friction_bone_bone: float
    friction_head: float
    torque_of_4_5_nm: float
    torque_coefficient: float
    most_of_pull_out: float
    slope_deg: float
    figures: dict[str, Figure]


@lru_cache(maxsize=1)
def tightening() -> Tightening:
    """The shipped figures.

    Raises:
        CatalogueError: the shipped file is faulty.
    """
    file = read(FILE)
    known = sources(file)
    table = file.table("tightening")
    values, figures = {}, {}
    for name, row in ((name, table.table(name)) for name in table.values):
        values[name] = row.number("value", 0, 10_000)
        figures[name] = known[row.choice("figure", tuple(known))]
    return Tightening(**values, figures=figures)
