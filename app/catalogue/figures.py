"""Sources: every figure of the catalogue names one, and how firmly it may be stated."""

from collections.abc import Collection
from typing import cast, get_args

from app.catalogue.models import Figure, On, Standing
from app.catalogue.tables import Table

STANDINGS: tuple[str, ...] = get_args(Standing)
ONS: tuple[str, ...] = get_args(On)
ON_WORDS: dict[On, str] = {
    "humans": "humans",
    "veterinary": "veterinary page (no human source found)",
    "animals": "animals",
    "bench": "bench test or computer model",
    "calculation": "calculation or theory",
    "none": "no source",
}


def figure(table: Table) -> Figure:
    """Read ``source``, ``standing`` and ``on``; without the last, nobody has said."""
    on = table.choice("on", ONS) if "on" in table.values else "none"
    return Figure(table.text("source"), cast(Standing, table.choice("standing", STANDINGS)), cast(On, on))


def sources(file: Table) -> dict[str, Figure]:
    """The ``[sources]`` of a file by their short names."""
    return {name: figure(table) for name, table in file.table("sources").tables()}


def named(table: Table, known: dict[str, Figure]) -> Figure:
    """The source that ``figure`` names."""
    return known[table.choice("figure", known)]


def all_figures(table: Table, known: dict[str, Figure], fields: Collection[str]) -> dict[str, Figure]:
    """Source of each of ``fields``: the one named in ``figures``, or else the entry's own ``figure``."""
    own = table.table("figures") if "figures" in table.values else Table(table.file, table.place("figures"), {})
    general = {} if "figure" not in table.values else dict.fromkeys(fields, named(table, known))
    found = {**general, **{name: known[own.choice(name, known)] for name in own.values}}
    for name in fields:
        if name not in found:
            raise own.fault(name, "every figure needs a source")
    return found
