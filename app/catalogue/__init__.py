"""Generic bones, plate series, screws, materials, bone quality and thresholds: what the rest computes with."""

from app.catalogue.load import default_catalogue, load_catalogue
from app.catalogue.models import (
    AtRisk,
    BoneSpec,
    Catalogue,
    Figure,
    HoleKind,
    Material,
    Minimum,
    On,
    PlateSeries,
    ProfileRow,
    Quality,
    ScrewKind,
    ScrewSpec,
    Standing,
)
from app.catalogue.tables import CatalogueError
from app.catalogue.thresholds import Threshold, Thresholds, load_thresholds

__all__ = [
    "AtRisk",
    "BoneSpec",
    "Catalogue",
    "CatalogueError",
    "Figure",
    "HoleKind",
    "Material",
    "Minimum",
    "On",
    "PlateSeries",
    "ProfileRow",
    "Quality",
    "ScrewKind",
    "ScrewSpec",
    "Standing",
    "Threshold",
    "Thresholds",
    "default_catalogue",
    "load_catalogue",
    "load_thresholds",
]
