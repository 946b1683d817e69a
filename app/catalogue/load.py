"""Loading the catalogue: the shipped files, and the user's own stock on top of them.

Your own stock is a TOML file with ``[series."KEY"]`` and ``[screws."KEY"]`` tables (a key with a dot is quoted).
A table under a shipped key changes only what it names; a new key needs every field of a shipped entry (see
``data/plates.toml`` and ``data/screws.toml`` for all of them, with units in their names). ``source`` may say where your
figures come from::

    [series."small-3.5"]            # ours come in fewer lengths
    holes_made = [6, 8, 10, 12]
    source = "our store list"

Your own figures are shown as *assumed*: nobody but you has checked them.
"""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from app.catalogue.bones import read_bones
from app.catalogue.figures import sources
from app.catalogue.implants import SCREW_KEYS, SERIES_KEYS, read_screw, read_series
from app.catalogue.models import Catalogue, Figure, Material, PlateSeries, ScrewSpec
from app.catalogue.substances import read_bone_tissue, read_materials, read_qualities
from app.catalogue.tables import CatalogueError, Table, read

DATA = Path(__file__).parent / "data"
OWN = "own-stock"
NOT_FIGURED = {"label", "figure", "figures", "hole_kind", "kind", "cortex_screw", "locking_screw", "material"}


def default_catalogue() -> Catalogue:
    """The catalogue as shipped."""
    return _load(None, (0, 0))


def load_catalogue(own_stock: Path | None = None) -> Catalogue:
    """The shipped catalogue with the user's own stock on top; read again only when that file has changed.

    Raises:
        CatalogueError: the user's file is faulty; the message names file, key and what is allowed.
    """
    if own_stock is None:
        return default_catalogue()
    try:
        state = own_stock.stat()
    except (OSError, ValueError) as error:
        raise CatalogueError(own_stock.name, "", f"cannot be read: {error}") from error
    return _load(own_stock, (state.st_mtime_ns, state.st_size))


@lru_cache(maxsize=16)
def _load(own_stock: Path | None, version: tuple[int, int]) -> Catalogue:  # noqa: ARG001 - part of the cache's key
    own = Table("", "", {}) if own_stock is None else read(own_stock)
    own.only({"series", "screws"})
    materials = read_materials(read(DATA / "materials.toml"))
    screws = _screws(own, materials)
    series = _fitting_series(own, screws, materials)
    tissue, tissue_figures = read_bone_tissue(read(DATA / "materials.toml"))
    return Catalogue(
        bones=read_bones(read(DATA / "bones.toml"), tuple(series)),
        series=series,
        screws=screws,
        materials=materials,
        qualities=read_qualities(read(DATA / "quality.toml")),
        **tissue,
        figures=tissue_figures,
    )


def _screws(own: Table, materials: dict[str, Material]) -> dict[str, ScrewSpec]:
    file = read(DATA / "screws.toml")
    tables = _with_own(file.table("screws"), own, "screws", SCREW_KEYS)
    known = sources(file)
    return {key: read_screw(key, table, known | figures, tuple(materials)) for key, (table, figures) in tables.items()}


def _fitting_series(own: Table, screws: dict[str, ScrewSpec], materials: dict[str, Material]) -> dict[str, PlateSeries]:
    try:
        return _series(own, screws, materials)
    except CatalogueError as error:
        if not own.file or error.file == own.file:
            raise
        # The shipped plates are sound, so the user's screws have spoilt one: say it of the user's file.
        raise CatalogueError(own.file, "screws", f"no longer fit {error.key}, which {error.allowed}") from error


def _series(own: Table, screws: dict[str, ScrewSpec], materials: dict[str, Material]) -> dict[str, PlateSeries]:
    file = read(DATA / "plates.toml")
    tables = _with_own(file.table("series"), own, "series", SERIES_KEYS)
    known = sources(file)
    return {
        key: read_series(key, table, known | figures, screws, tuple(materials))
        for key, (table, figures) in tables.items()
    }


def _with_own(shipped: Table, own: Table, part: str, keys: set[str]) -> dict[str, tuple[Table, dict[str, Figure]]]:
    """Shipped tables overlaid with the user's, each with the source of the user's figures."""
    merged: dict[str, tuple[Table, dict[str, Figure]]] = {key: (table, {}) for key, table in shipped.tables()}
    if part not in own.values:
        return merged
    for key, table in own.table(part).tables():
        base = merged[key][0].values if key in merged else {"figure": OWN}
        merged[key] = _overlaid(base, table, keys - {"figure", "figures"})
    return merged


def _overlaid(base: Mapping[str, Any], table: Table, keys: set[str]) -> tuple[Table, dict[str, Figure]]:
    """One entry, the user's values over the shipped ones; the user's figures name the user as their source."""
    table.only(keys | {"source"})
    source = table.text("source") if "source" in table.values else f"your own stock file ({table.file})"
    values = {name: value for name, value in table.values.items() if name != "source"}
    own_figures = dict.fromkeys(values.keys() - NOT_FIGURED, OWN)
    figures = {**base.get("figures", {}), **own_figures}
    merged = Table(table.file, table.key, {**base, **values, "figures": figures})
    return merged, {OWN: Figure(source, "assumed")}
