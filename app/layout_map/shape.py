"""The shape of the map as a document, ``fishplate-map/1``; no numpy is needed to name it."""

from typing import Any, Literal

from pydantic import TypeAdapter, with_config
from typing_extensions import TypedDict

from app.case.closed import CLOSED
from app.mechanics.document import SupportsDocument

FORMAT: Literal["fishplate-map/1"] = "fishplate-map/1"
FIXED = (
    "For the plate as it lies: loads, supports and the role of each hole are held fixed. Filled holes keep their "
    "screw; empty ones take the usual one."
)


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


def map_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of the document."""
    found = TypeAdapter(MapDocument).json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found, "title": FORMAT}
