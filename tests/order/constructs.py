"""Constructs that the order tests share: the trade's two textbook layouts, and sensible ones per bone and pattern."""

from app.case.models import Bone, BoneName, BoneQuality, Construct, Fracture, FractureLine, Hole, LagScrew, Plate, Role
from app.catalogue import load_catalogue
from app.geometry import Layout, hole_offsets, lay_out, plate_length
from app.geometry.construct import Allowances

CATALOGUE = load_catalogue()
LETTER: dict[str, Role] = {
    ".": "empty",
    "N": "neutral",
    "E": "eccentric",
    "L": "lag",
    "2": "locking-2",
    "1": "locking-1",
}


def holes(letters: str, tilts: dict[int, float] | None = None) -> tuple[Hole, ...]:
    """Holes from letters, ``.`` for an empty one; tilts by hole number."""
    given = tilts or {}
    return tuple(Hole(role=LETTER[letter], tilt_deg=given.get(n, 0.0)) for n, letter in enumerate(letters, 1))


def laid(construct: Construct, quality: BoneQuality = "normal") -> Layout:
    return lay_out(construct, quality, CATALOGUE, Allowances())


def oblique_radius(*, roles: str = "N.NLE..N", obliquity_deg: float = 40, gap_mm: float = 0) -> Construct:
    """8-hole 3.5 plate on an oblique mid-shaft radius, the fracture under the fourth hole."""
    offset = hole_offsets(CATALOGUE.series["small-3.5"], 8)[3]
    return Construct(
        bone=Bone(name="radius"),
        fracture=Fracture(
            code="2R2A2", lines=(FractureLine(position_mm=120, obliquity_deg=obliquity_deg),), gap_mm=gap_mm
        ),
        principle="compression",
        plate=Plate(series="small-3.5", holes=8, centre_mm=120 - offset),
        holes=holes(roles, {4: -obliquity_deg / 2} if "L" in roles else None),
    )


def bridged_ulna(*, roles: str = "2.2.....2.2") -> Construct:
    """11-hole 3.5 plate bridging a multifragmentary mid-shaft ulna."""
    return Construct(
        bone=Bone(name="ulna"),
        fracture=Fracture(code="2U2C3", lines=(FractureLine(position_mm=125, zone_mm=30),)),
        principle="bridging",
        plate=Plate(series="small-3.5", holes=11, centre_mm=125),
        holes=holes(roles),
    )


def transverse(bone: BoneName, *, prebend_mm: float = 1.5, gap_mm: float = 0) -> Construct:
    """Transverse mid-shaft fracture, compressed by a pre-bent 8-hole plate."""
    spec = CATALOGUE.bones[bone]
    middle = spec.length_mm / 2
    return Construct(
        bone=Bone(name=bone),
        fracture=Fracture(lines=(FractureLine(position_mm=middle),), gap_mm=gap_mm),
        principle="compression",
        plate=Plate(series=_series(bone), holes=8, centre_mm=middle, prebend_mm=prebend_mm),
        holes=holes("N.NNE.NN"),
    )


def oblique(bone: BoneName, obliquity_deg: float) -> Construct:
    """Oblique fracture under the middle of nine holes: neutral on the obtuse side, eccentric opposite, lag between."""
    spec = CATALOGUE.bones[bone]
    middle = spec.length_mm / 2
    roles = "NNN.L.ENN" if obliquity_deg > 0 else "NNE.L.NNN"
    return Construct(
        bone=Bone(name=bone),
        fracture=Fracture(lines=(FractureLine(position_mm=middle, obliquity_deg=obliquity_deg),)),
        principle="compression",
        plate=Plate(series=_series(bone), holes=9, centre_mm=middle),
        holes=holes(roles, {5: -obliquity_deg / 2}),
    )


def protected(bone: BoneName) -> Construct:
    """Spiral fracture held by a separate lag screw, protected by a neutral plate with locking ends."""
    spec = CATALOGUE.bones[bone]
    middle = spec.length_mm / 2
    locks = CATALOGUE.series[_series(bone)].locking_screw is not None
    return Construct(
        bone=Bone(name=bone),
        fracture=Fracture(lines=(FractureLine(position_mm=middle, obliquity_deg=55),)),
        principle="protection",
        plate=Plate(series=_series(bone), holes=10, centre_mm=middle),
        holes=holes("2NN....NN2" if locks else "NNN....NNN"),
        lag_screws=(LagScrew(position_mm=middle - 2, tilt_deg=-35),),
    )


def bridged(bone: BoneName, *, conventional: bool = False) -> Construct:
    """Multifragmentary zone bridged by a long plate, locked or with cortex screws next to locking ones."""
    spec = CATALOGUE.bones[bone]
    middle = spec.length_mm / 2
    count = _longest(bone, 12)
    inner = count - 6
    sides = ("2N2", "2N2") if conventional else ("2.2", "2.2")
    return Construct(
        bone=Bone(name=bone),
        fracture=Fracture(lines=(FractureLine(position_mm=middle, zone_mm=15),)),
        principle="bridging",
        plate=Plate(series=_series(bone), holes=count, centre_mm=middle),
        holes=holes(sides[0] + "." * inner + sides[1]),
    )


def segmental(bone: BoneName) -> Construct:
    """Two lines, both compressed from the outside towards the intermediate fragment."""
    spec = CATALOGUE.bones[bone]
    series = CATALOGUE.series[_series(bone)]
    middle = spec.length_mm / 2
    count = _longest(bone, 12)
    reach = series.pitch_mm * 2
    places = [middle + offset for offset in hole_offsets(series, count)]
    lines = (middle - reach, middle + reach)
    return Construct(
        bone=Bone(name=bone),
        fracture=Fracture(lines=tuple(FractureLine(position_mm=s) for s in lines)),
        principle="compression",
        plate=Plate(series=series.key, holes=count, centre_mm=middle),
        holes=tuple(Hole(role=role) for role in _segmental_roles(places, lines, series.pitch_mm)),
    )


def _segmental_roles(places: list[float], lines: tuple[float, float], pitch_mm: float) -> list[Role]:
    roles: list[Role] = []
    for s in places:
        beside = min(abs(s - line) for line in lines)
        if beside < pitch_mm * 0.45:
            roles.append("empty")
        elif lines[0] < s < lines[1]:
            roles.append("neutral")
        else:
            roles.append("eccentric" if beside < pitch_mm * 1.45 else "neutral")
    return roles


def _series(bone: BoneName) -> str:
    return CATALOGUE.bones[bone].usual_series[0]


def _longest(bone: BoneName, wanted: int) -> int:
    """The greatest count of holes, ``wanted`` at most, whose plate leaves a tenth of the bone free."""
    series = CATALOGUE.series[_series(bone)]
    free = CATALOGUE.bones[bone].length_mm * 0.9
    return max(n for n in series.holes_made if n <= wanted and plate_length(series, n) < free)
