"""Locking: what a hole takes, unicortical screws, stand-off, and locking beside cortex screws."""

from collections.abc import Iterator

from app.case.edits import SetStandoff
from app.case.models import Role
from app.geometry import ScrewPath
from app.rules.edits import holes, listed, remedy, role_edit
from app.rules.facts import CLAMPING, LOCKING, plate_screws
from app.rules.hold import missed
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput
from app.rules.trial import holds_fragment

LOCKING_RULES = Registry()
WORDS = {"eccentric": "an eccentric screw", "locking-2": "a locking screw", "locking-1": "a locking screw"}


@LOCKING_RULES.rule(
    "locking-hole",
    "stop",
    says="Each hole has a role that it can take: locking needs a thread, eccentric a slot, a lag a part without "
    "thread.",
    why="A locking head needs its thread in the plate, an eccentric head a ramp to slide on. A lag screw in a thread "
    "can't lean or glide, and a locking screw can't lean at all.",
    source="common practice, no source: what the holes are made for",
    standing="common practice",
    on="none",
)
def locking_hole(judged: RuleInput) -> Iterator[Finding]:
    """Roles that the plate's holes don't take; lag screws in threaded round holes; leaning locking screws."""
    series = judged.layout.series
    takes = series.roles()
    threaded = series.locking_screw is not None and series.hole_kind == "round"
    for number, hole in enumerate(judged.construct.holes, 1):
        if hole.role not in takes:
            way = remedy(f"Make the screw in hole {number} neutral", [role_edit(judged, number, "neutral")])
            message = f"Hole {number} can't take {WORDS[hole.role]}: the plate has {series.hole_kind} holes."
            yield Finding(message, (f"h{number}",), None, way)
        elif hole.role == "lag" and threaded:
            way = remedy(f"Leave hole {number} empty", [role_edit(judged, number, "empty")])
            yield Finding(f"The lag screw in hole {number} goes through a locking thread.", (f"h{number}",), None, way)
        elif hole.role in LOCKING and hole.tilt_deg:
            way = remedy(f"Set the screw in hole {number} upright", [role_edit(judged, number, hole.role, 0.0)])
            message = f"The locking screw in hole {number} is given a lean of {hole.tilt_deg:g}°, which is ignored."
            yield Finding(message, (f"h{number}",), "note", way)


@LOCKING_RULES.rule(
    "one-cortex",
    "caution",
    says="Unicortical locking screws are not for osteoporotic (poor) bone, thin cortex, or bones loaded in torsion.",
    why="A unicortical screw has half the bone and no second support: against bicortical non-locking screws it "
    "was as good in bending but weaker in torsion, and a thin wall leaves it a turn or two of thread.",
    source="radius, unicortical locking against bicortical non-locking screws (OTA 2006, paper 84); 69 % weaker in "
    "torsion in an osteoporotic surrogate (Fitzpatrick 2009, Clin Biomech 24:203); thin wall: common practice",
    standing="published",
    on="bench",
)
def one_cortex(judged: RuleInput) -> Iterator[Finding]:
    """Unicortical screws where one of the three reasons holds; thin wall alone is a note, its limit is assumed."""
    single = [s for s in judged.layout.screws if s.role == "locking-1" and s.hole is not None]
    if not single or judged.layout.series.locking_screw is None:
        return
    thin = judged.thresholds.value("one-cortex", "thin_mm")
    wall = min(judged.layout.shape.cortex(screw.s_mm) for screw in single)
    bone = judged.layout.bone
    reasons = [f"the {bone.label.lower()} is loaded in torsion"] if bone.torsion_loaded else []
    reasons += ["the bone is osteoporotic (poor)"] if judged.case.bone_quality == "poor" else []
    level: Level | None = None if reasons else "note"
    reasons += [f"the wall is {wall:.1f} mm thick (under {thin:g} mm)"] if wall < thin else []
    if reasons:
        numbers = [screw.hole for screw in single if screw.hole is not None]
        way = _bicortical(judged, single)
        message = f"Unicortical locking in {holes(numbers)}, but {listed(reasons)}."
        yield Finding(message, tuple(screw.id for screw in single), level, way)


def _bicortical(judged: RuleInput, single: list[ScrewPath]) -> Remedy | None:
    """Make them bicortical; one that would not hold there is left out, if its fragment can do without."""
    numbers = [screw.hole for screw in single if screw.hole is not None]
    fit = [number for number in numbers if holds_fragment(judged, number, "locking-2")]
    if fit == numbers:
        return remedy(f"Bicortical locking in {holes(numbers)}", [role_edit(judged, n, "locking-2") for n in fit])
    rest = [screw for screw in single if screw.hole is not None and screw.hole not in fit]
    if len(rest) > 1 or missed(judged, rest[0]):
        return None
    edits = [role_edit(judged, number, "locking-2") for number in fit]
    label = f"Leave {holes([number for number in numbers if number not in fit])} empty"
    return remedy(label, [*edits, role_edit(judged, rest[0].hole or 1, "empty")])


@LOCKING_RULES.rule(
    "stand-off",
    "caution",
    says="A locked plate stands no more than 2 mm off the bone; a conventional one lies on it.",
    why="The further off a locked plate stands, the longer its screws bend. A conventional plate holds by friction "
    "on the bone: off it, its screws pull the bone out of place or hold nothing.",
    source="AO Surgery Reference, plate preparation (veterinary page; no human source found for the figure): 2 mm at "
    "most; much weaker at 5 mm from memory (Ahmad 2007)",
    standing="handbook",
    on="veterinary",
)
def stand_off(judged: RuleInput) -> Iterator[Finding]:
    """Stand-off against the limit of the way the plate is held."""
    off = judged.construct.plate.standoff_mm
    roles = {hole.role for hole in judged.construct.holes}
    locked = bool(roles & LOCKING) and judged.layout.series.locking_screw is not None
    limits = judged.thresholds
    if not locked:
        most = limits.value("stand-off", "conventional_mm")
        if off > most:
            way = remedy("Lay the plate on the bone", [SetStandoff(target=judged.target, standoff_mm=0.0)])
            message = (
                f"The plate stands {off:g} mm off, but its screws do not lock: it holds only when pressed on the bone."
            )
            yield Finding(message, ("plate",), None, way)
        return
    # No stop, however far off: the 5 mm are remembered only, and plates locked outside the skin carried load on the
    # bench (Bone Joint Res 2017, 10.1302/2046-3758.64.2000470).
    most, much = limits.value("stand-off", "caution_mm"), limits.value("stand-off", "much_mm")
    if off > most:
        near = min(1.0, most)
        way = remedy(f"Set it {near:g} mm off", [SetStandoff(target=judged.target, standoff_mm=near)])
        beyond = f"; beyond {much:g} mm it is remembered as clearly weaker" if off > much else ""
        message = f"The locked plate stands {off:g} mm off the bone; {most:g} mm at most{beyond}."
        yield Finding(message, ("plate",), None, way)


@LOCKING_RULES.rule(
    "mixed-fragment",
    "note",
    says="Where cortex and locking screws share a fragment, the plate lies on the bone.",
    why="A cortex screw draws the fragment up to the plate, and may spoil the reduction where the plate stands off; a "
    "locking one keeps the distance it finds.",
    source="AO Surgery Reference, distal femur, combination holes",
    standing="handbook",
    on="humans",
)
def mixed_fragment(judged: RuleInput) -> Iterator[Finding]:
    """Fragments that hold both kinds of screw under a plate that stands off."""
    off = judged.construct.plate.standoff_mm
    if off <= judged.thresholds.value("stand-off", "conventional_mm"):
        return
    flat = remedy("Lay the plate on the bone", [SetStandoff(target=judged.target, standoff_mm=0.0)])
    for fragment in judged.layout.fracture.fragments:
        screws = plate_screws(judged, fragment.name)
        clamping, locked = _numbers(screws, CLAMPING), _numbers(screws, LOCKING)
        if clamping and locked:
            one = len(clamping) == 1
            message = (
                f"The plate stands {off:g} mm off, with locking screws in {holes(locked)}: the cortex "
                f"screw{'' if one else 's'} in {holes(clamping)} draw{'s' if one else ''} the {fragment.name} fragment "
                f"up to it and may spoil the reduction. Lay the plate down, or make {'it' if one else 'them'} locking."
            )
            yield Finding(message, tuple(s.id for s in screws if s.role != "lag"), None, flat)


def _numbers(screws: list[ScrewPath], roles: frozenset[Role]) -> list[int]:
    return [screw.hole for screw in screws if screw.role in roles and screw.hole is not None]
