"""What several rules ask of a construct: which screws hold what, what is simple, what a lag screw presses."""

from app.case.models import Role
from app.catalogue.models import Minimum, Standing
from app.geometry import Line, ScrewPath
from app.geometry.fracture import OBTUSE_FROM_DEG, ON_LINE, WEDGE, ZONE
from app.rules.registry import Level, RuleInput

WEAK: frozenset[Standing] = frozenset({"from memory", "assumed"})
MAX_LAGS = 6  # a case file holds no more independent lag screws
LOCKING: frozenset[Role] = frozenset({"locking-2", "locking-1"})
CLAMPING: frozenset[Role] = frozenset({"neutral", "eccentric"})


def firm(standing: Standing, level: Level) -> Level:
    """A level as far as its ground carries it: what is only remembered or assumed is a note."""
    return "note" if standing in WEAK else level


def pressing(judged: RuleInput) -> bool:
    """Whether any screw presses the fracture: an eccentric or a lag screw."""
    return any(screw.role in ("eccentric", "lag") for screw in judged.layout.screws)


def filled_up(judged: RuleInput, added: int = 1) -> bool:
    """Whether so many more screws would be too many for a bridge."""
    roles = [hole.role for hole in judged.construct.holes]
    filled = len(roles) - roles.count("empty") + added
    limit = judged.thresholds.value("screw-density", "bridging_max")
    return judged.construct.principle == "bridging" and filled > limit * len(roles) + 1e-9


def minimum(judged: RuleInput) -> Minimum:
    """The least hold that the bone needs under the construct's principle."""
    return judged.layout.bone.minima[judged.construct.principle]


def plate_screws(judged: RuleInput, fragment: str) -> list[ScrewPath]:
    """Screws in holes of the plate that hold a fragment, from proximal to distal; lag screws in holes included."""
    return [screw for screw in judged.layout.screws if screw.hole is not None and screw.home == fragment]


def holding_screws(judged: RuleInput, fragment: str) -> list[ScrewPath]:
    """Those of ``plate_screws`` that hold the fragment to the plate: all but the lag screws."""
    return [screw for screw in plate_screws(judged, fragment) if screw.role != "lag"]


def named(screw: ScrewPath) -> str:
    """A screw in words: ``hole 3``, or ``independent lag screw 1``."""
    return f"hole {screw.hole}" if screw.hole is not None else f"independent lag screw {screw.id[1:]}"


def listed_screws(*screws: ScrewPath) -> str:
    """Screws in words, for a pair: ``holes 3 and 4`` or each by its own name."""
    if all(screw.hole is not None for screw in screws):
        return "holes " + " and ".join(str(screw.hole) for screw in screws)
    return " and ".join(named(screw) for screw in screws)


def is_simple(judged: RuleInput) -> bool:
    """One line, no zone, no wedge."""
    fracture = judged.layout.fracture
    return len(fracture.lines) == 1 and fracture.lines[0].zone_mm == 0 and fracture.wedge is None


def usual_role(judged: RuleInput) -> Role:
    """What further holes are filled with: locking where only locking screws hold or the plate is to bridge."""
    if judged.layout.series.locking_screw is None:
        return "neutral"
    if judged.case.bone_quality == "poor":
        return "locking-2"
    roles = {hole.role for hole in judged.construct.holes}
    if roles & CLAMPING:
        return "neutral"
    return "locking-2" if roles & LOCKING or judged.construct.principle == "bridging" else "neutral"


def obtuse_side(line: Line) -> int | None:
    """Index of the fragment with the obtuse corner at the plate; None if the line is too nearly transverse."""
    if abs(line.obliquity_deg) < OBTUSE_FROM_DEG:
        return None
    return line.index if line.obliquity_deg > 0 else line.index + 1


def lines_pressed(judged: RuleInput, screw: ScrewPath) -> tuple[Line, ...]:
    """Lines whose two sides a lag screw draws together; empty if it draws nothing together."""
    fracture = judged.layout.fracture
    if lag_fault(judged, screw) is not None:
        return ()
    if WEDGE in screw.owners and fracture.wedge is not None:
        return (fracture.lines[fracture.wedge.line],)
    ends = [fragment.index for fragment in fracture.fragments if fragment.name in screw.owners]
    return fracture.lines[min(ends) : max(ends)]


def lag_fault(judged: RuleInput, screw: ScrewPath) -> str | None:
    """Why a lag screw presses nothing, as the end of a sentence about it; None if it presses."""
    near, far = screw.owners
    for cortex, owner in (("near", near), ("far", far)):
        if owner == ON_LINE:
            return f"meets the fracture line itself at the {cortex} cortex"
        if owner == ZONE:
            return f"meets no load-bearing bone at the {cortex} cortex"
    if near == far:
        place = "wedge" if near == WEDGE else f"{near} fragment"
        return f"does not cross the fracture: both its cortices lie in the {place}"
    return _empty_between(judged, near, far)


def _empty_between(judged: RuleInput, near: str, far: str) -> str | None:
    fracture = judged.layout.fracture
    ends = [fragment.index for fragment in fracture.fragments if fragment.name in (near, far)]
    zones = [line.zone_mm for line in fracture.lines[min(ends) : max(ends)] if line.zone_mm > 0]
    return f"crosses a zone of {max(zones):g} mm without bone, so that nothing can be pressed" if zones else None


def lags(judged: RuleInput) -> list[ScrewPath]:
    """All lag screws, in holes and independent."""
    return [screw for screw in judged.layout.screws if screw.role == "lag"]


def catches_wedge(judged: RuleInput, screw: ScrewPath) -> bool:
    """Whether a lag screw draws the wedge to a main fragment."""
    return screw.role == "lag" and WEDGE in screw.owners and lag_fault(judged, screw) is None


def presses_main_line(judged: RuleInput, line: Line) -> bool:
    """Whether a lag screw draws the two fragments beside a line together, whatever else it holds."""
    return any(WEDGE not in screw.owners and line in lines_pressed(judged, screw) for screw in lags(judged))


def pulled(judged: RuleInput, line: Line) -> list[ScrewPath]:
    """The eccentric screws that close a line, under compression."""
    if judged.construct.principle != "compression":
        return []
    near = judged.layout.fracture.line_at
    return [screw for screw in judged.layout.screws if screw.role == "eccentric" and near(screw.s_mm) is line]


def pressed(judged: RuleInput, line: Line) -> bool:
    """Whether an eccentric screw closes a line, or a lag screw presses it."""
    return bool(pulled(judged, line)) or any(line in lines_pressed(judged, screw) for screw in lags(judged))


def wants_bend(judged: RuleInput, line: Line) -> bool:
    """Whether a plate that compresses this line wants more pre-bend than it has."""
    low, below = (judged.thresholds.value("prebend", name) for name in ("min_mm", "transverse_below_deg"))
    return judged.construct.plate.prebend_mm < low and line.steepness_deg < below


def bend_mm(judged: RuleInput) -> float:
    """The usual pre-bend, mm: the middle of what is advised."""
    return sum(judged.thresholds.value("prebend", name) for name in ("min_mm", "max_mm")) / 2
