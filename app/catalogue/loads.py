"""Load presets by bone and stage of rehabilitation: N and N·m, each with its source."""

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
