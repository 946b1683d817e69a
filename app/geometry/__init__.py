"""Bone, fracture, plate and screws in the profile plane: pure functions, mm and degrees."""

from app.geometry.bends import Bend
from app.geometry.construct import Allowances, Layout, lay_out
from app.geometry.contouring import Contour, contour_of
from app.geometry.fracture import FractureMap, Fragment, Line
from app.geometry.limits import Ranges, check_case, ranges
from app.geometry.plate import HolePlace, hole_offsets, hole_sides, plate_length
from app.geometry.profile import BoneShape, bone_shape
from app.geometry.screws import Passage, ScrewPath
from app.geometry.summary import FragmentSummary, Summary, bridging_spans, summarise

__all__ = [
    "Allowances",
    "Bend",
    "BoneShape",
    "Contour",
    "FractureMap",
    "Fragment",
    "FragmentSummary",
    "HolePlace",
    "Layout",
    "Line",
    "Passage",
    "Ranges",
    "ScrewPath",
    "Summary",
    "bone_shape",
    "bridging_spans",
    "check_case",
    "contour_of",
    "hole_offsets",
    "hole_sides",
    "lay_out",
    "plate_length",
    "ranges",
    "summarise",
]
