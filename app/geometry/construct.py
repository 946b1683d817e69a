"""A construct laid out: everything later layers ask about bone, fracture, plate and screws."""

from dataclasses import dataclass, replace

from app.case.models import BoneQuality, Construct
from app.catalogue import Thresholds
from app.catalogue.models import BoneSpec, Catalogue, PlateSeries, Quality
from app.geometry.bends import Across, Bend, across_width, bends, straight_gap
from app.geometry.facing import Facing, facing
from app.geometry.fracture import FractureMap, map_fracture
from app.geometry.plate import HolePlace, place_holes, plate_length
from app.geometry.profile import BoneShape, bone_shape
from app.geometry.screws import Bed, ScrewPath, Tips, lay_screws


@dataclass(frozen=True, slots=True)
class Allowances:
    """Distances that a department may set: clearance in screw diameters, and how far a tip may stand out, mm.

    ``short_tip_mm`` is for bones with vessels or pleura behind the far cortex.
    """

    clearance_diameters: float = 1.0
    tip_mm: float = 2.0
    short_tip_mm: float = 1.0

    @classmethod
    def of(cls, thresholds: Thresholds) -> "Allowances":
        """The distances as a table of thresholds has them."""
        return cls(
            clearance_diameters=thresholds.value("near-fracture", "clearance_diameters"),
            tip_mm=thresholds.value("screw-length", "tip_note_mm"),
            short_tip_mm=thresholds.value("screw-length", "tip_mm"),
        )


@dataclass(frozen=True, slots=True)
class Layout:
    """One construct, laid on its bone.

    ``facing`` is how the bone lies under this plate, ``contour_mm`` how far the plate would stand off unbent, ``bends``
    what has to be bent between its holes, ``across`` how the bone curves across its width. ``clearance_mm`` is one
    clearance of the plate's own cortex screw, ``tips`` how far a tip may stand out of this bone.
    """

    construct: Construct
    bone: BoneSpec
    quality: Quality
    series: PlateSeries
    shape: BoneShape
    facing: Facing
    fracture: FractureMap
    holes: tuple[HolePlace, ...]
    screws: tuple[ScrewPath, ...]
    plate_length_mm: float
    contour_mm: float
    bends: tuple[Bend, ...]
    across: Across
    clearance_mm: float
    tips: Tips

    @property
    def plate_ends_mm(self) -> tuple[float, float]:
        """``s`` of the plate's proximal and distal end."""
        centre = self.construct.plate.centre_mm
        return centre - self.plate_length_mm / 2, centre + self.plate_length_mm / 2

    @property
    def holes_over_fracture(self) -> tuple[int, ...]:
        """Numbers of the holes over a line or zone, other than those whose screw holds one fragment clear of it."""
        return tuple(hole.number for hole in self.holes if hole.line is not None)

    def screws_of(self, fragment: str) -> tuple[ScrewPath, ...]:
        """The screws counted with a fragment, from proximal to distal."""
        return tuple(sorted((s for s in self.screws if s.home == fragment), key=lambda screw: screw.s_mm))

    def screw(self, name: str) -> ScrewPath:
        """The screw with this id.

        Raises:
            KeyError: no such screw is placed.
        """
        for screw in self.screws:
            if screw.id == name:
                return screw
        raise KeyError(name)


def lay_out(construct: Construct, quality: BoneQuality, catalogue: Catalogue, allowances: Allowances) -> Layout:
    """Lay a construct on its bone.

    Raises:
        KeyError: a bone, series or screw that the catalogue doesn't hold (``check_case`` says so in words first).
    """
    bone = catalogue.bones[construct.bone.name]
    series = catalogue.series[construct.plate.series]
    grade = catalogue.qualities[quality]
    shape = bone_shape(construct.bone, bone, grade, construct.surface)
    seen = facing(bone, construct.surface, construct.bone.side)
    fracture = map_fracture(construct, shape)
    clearance = allowances.clearance_diameters * catalogue.screws[series.cortex_screw].thread_mm
    places = place_holes(construct.plate, series, fracture, clearance)
    tips = _tips(bone, shape, allowances)
    bed = Bed(shape, fracture, series.seat_mm, construct.plate.standoff_mm, tips)
    length = plate_length(series, construct.plate.holes)
    ends = construct.plate.centre_mm - length / 2, construct.plate.centre_mm + length / 2
    screws = lay_screws(construct, catalogue, bed, series, places)
    return Layout(
        construct=construct,
        bone=bone,
        quality=grade,
        series=series,
        shape=shape,
        facing=seen,
        fracture=fracture,
        holes=tuple(_held(place, screws, fracture, clearance) for place in places),
        screws=screws,
        plate_length_mm=length,
        contour_mm=straight_gap(shape, ends, seen.under),
        bends=bends(shape, places, seen.under),
        across=across_width(shape, ends, series.width_mm, seen.across),
        clearance_mm=clearance,
        tips=tips,
    )


def _tips(bone: BoneSpec, shape: BoneShape, allowances: Allowances) -> Tips:
    if bone.short_tips is None:
        return Tips(allowances.tip_mm)
    start, end = (share * shape.length_mm for share in bone.short_tips)
    return Tips(allowances.tip_mm, allowances.short_tip_mm, start, end)


def _held(place: HolePlace, screws: tuple[ScrewPath, ...], fracture: FractureMap, clearance_mm: float) -> HolePlace:
    """The hole, over the fragment that its screw holds by both cortices clear of the fracture, wherever it is itself.

    An eccentric screw stands off its hole's middle, so that it may hold where a perpendicular one would not.
    """
    screw = next((screw for screw in screws if screw.hole == place.number), None)
    if place.line is None or screw is None or screw.crosses_fracture or screw.clear_of_fracture_mm < clearance_mm:
        return place
    by_name = {fragment.name: fragment.index for fragment in fracture.fragments}
    owners = {passage.owner for passage in screw.passages if passage.holds}
    both = len(owners) == 1 and sum(passage.holds for passage in screw.passages) > 1
    return replace(place, line=None, fragment=by_name[screw.home]) if both and screw.home in by_name else place
