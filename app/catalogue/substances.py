"""Reading implant metals, cortical bone and bone quality."""

from typing import Any, get_args

from app.case.models import BoneQuality
from app.catalogue.figures import all_figures, named, sources
from app.catalogue.models import Figure, Material, Quality
from app.catalogue.tables import Table

QUALITIES: tuple[str, ...] = get_args(BoneQuality)
METAL: dict[str, tuple[float, float]] = {
    "modulus_mpa": (10_000, 400_000),
    "poisson": (0, 0.49),
    "yield_mpa": (50, 3000),
    "ultimate_mpa": (50, 3000),
    "fatigue_mpa": (20, 2000),
    "fatigue_load_ratio": (-1, 0.9),
}
BONE: dict[str, tuple[float, float]] = {
    "bone_modulus_mpa": (1000, 40_000),
    "bone_poisson": (0, 0.49),
    "bone_shear_strength_mpa": (5, 200),
}


def read_materials(file: Table) -> dict[str, Material]:
    """All metals by key."""
    known = sources(file)
    return {key: _metal(key, table, known) for key, table in file.table("materials").tables()}


def _metal(key: str, table: Table, known: dict[str, Figure]) -> Material:
    table.only({*METAL, "label", "figures"})
    numbers: dict[str, Any] = {name: table.number(name, *span) for name, span in METAL.items()}
    return Material(key=key, label=table.text("label"), **numbers, figures=all_figures(table, known, METAL))


def read_bone_tissue(file: Table) -> tuple[dict[str, float], dict[str, Figure]]:
    """Constants of cortical bone, and where they come from."""
    table = file.table("cortical-bone")
    table.only({*BONE, "figures"})
    numbers = {name: table.number(name, *span) for name, span in BONE.items()}
    return numbers, all_figures(table, sources(file), BONE)


def read_qualities(file: Table) -> dict[str, Quality]:
    """Normal, reduced and poor bone."""
    known = sources(file)
    tables = file.table("quality")
    tables.only(QUALITIES)
    return {key: _quality(key, tables.table(key), known) for key in QUALITIES}


def _quality(key: str, table: Table, known: dict[str, Figure]) -> Quality:
    table.only({"label", "cortex_factor", "modulus_factor", "figure"})
    return Quality(
        key=key,
        label=table.text("label"),
        cortex_factor=table.number("cortex_factor", 0.1, 1),
        modulus_factor=table.number("modulus_factor", 0.1, 1),
        figure=named(table, known),
    )
