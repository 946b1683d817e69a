"""The bone's own: how the plate is bent to it, nerves and vessels along it, joints to check, other treatments."""

from collections.abc import Iterator

from app.case.models import FOREARM
from app.catalogue.models import Stretch
from app.geometry import ScrewPath
from app.geometry.bends import lean_deg
from app.geometry.contouring import prebends_of
from app.order.contour import bend_words, edge_words
from app.rules.edits import holes
from app.rules.facts import LOCKING
from app.rules.registry import Finding, Registry, RuleInput

ANATOMY_RULES = Registry()


@ANATOMY_RULES.rule(
    "contour",
    "note",
    says="A plate is bent to the bone where it would stand off more than a little, but not through a hole that is to "
    "lock, nor sharply in one place; along a bone that curves across its width it may have to be shaped on edge.",
    why="Pulled down unbent, a plate bends the bone or displaces the fracture. A thread that is bent with its plate "
    "holds its screw less long. No bending up and down keeps a plate on a bone that curves away sideways.",
    source="geometry of bone and plate (a bow of radius R stands off by l²/(8R)); a protection plate is contoured "
    "perfectly or displaces the lagged fracture (AO Surgery Reference, ulna and humerus); bends at a locking hole (J "
    "Orthop Trauma 2014;28:189-94, bench); 20 degrees at most between two holes (advice of a maker of plates, excerpt "
    "read); how much needs no bending is assumed",
    standing="handbook",
    on="humans",
)
def contour(judged: RuleInput) -> Iterator[Finding]:
    """One note: how far the plate stands off unbent, with the bends; bends in locking holes; edges left."""
    layout = judged.layout
    limit = judged.thresholds.value("contour", "unbent_mm")
    told = []
    if round(layout.contour_mm, 1) > limit:  # as it is shown
        where = bend_words(layout.bends) or "evenly, as no two neighbouring holes differ by 2°"
        told.append(
            f"Straight, the plate would stand up to {layout.contour_mm:.1f} mm off the bone (over {limit:g} mm): bend "
            f"it {where}."
        )
    told += _sharp(judged)
    most = judged.thresholds.value("contour", "hole_bend_deg")
    bent = [screw for screw in layout.screws if screw.role in LOCKING and hole_bend_deg(judged, screw.s_mm) > most]
    told += _bent_holes(judged, bent, most)
    if round(layout.across.overrun_mm, 1) > limit:
        told.append(
            f"The {layout.bone.label.lower()} curves across the plate's width: a straight plate of "
            f"{layout.plate_length_mm:.0f} mm leaves its edge {edge_words(layout)}. Shape it on edge, or "
            "take a shaped or shorter one."
        )
    if told:
        yield Finding(" ".join(told), ("plate", "bone", *(screw.id for screw in bent)))


def _sharp(judged: RuleInput) -> Iterator[str]:
    """Bends sharper than a plate takes between two holes."""
    most = judged.thresholds.value("contour", "most_bend_deg")
    sharp = [bend for bend in judged.layout.bends if round(abs(bend.angle_deg)) > most]  # as it is shown
    if sharp:
        where = bend_words(sharp)
        yield f"Over {most:g}° in one place ({where}) weakens it: move the plate, or take a shaped or shorter one."


def _bent_holes(judged: RuleInput, bent: list[ScrewPath], most_deg: float) -> Iterator[str]:
    """Locking holes that turn with the bone's surface, then those that only the pre-bend turns so much."""
    flared = [screw for screw in bent if abs(_surface_turn(judged, screw.s_mm)) > most_deg]
    for cause, screws in (
        ("the bone's flare there", flared),
        ("the pre-bend", [screw for screw in bent if screw not in flared]),
    ):
        numbers = [screw.hole for screw in screws if screw.hole is not None]
        if numbers:
            yield (
                f"Within {holes(numbers)}, where a screw is to lock, {cause} turns the plate by more than "
                f"{most_deg:g}°, bends between holes left aside: lock another hole, or put a cortex screw there."
            )


def _surface_turn(judged: RuleInput, s_mm: float) -> float:
    """How much a plate that follows the bone's surface and bow turns within a hole, degrees."""
    layout, half = judged.layout, judged.layout.series.slot_mm / 2
    bow = layout.facing.under
    return lean_deg(layout.shape, s_mm + half, bow) - lean_deg(layout.shape, s_mm - half, bow)


def hole_bend_deg(judged: RuleInput, s_mm: float) -> float:
    """How much the plate turns within a hole: with the surface, its bow, and the pre-bend where that lies in it."""
    layout, half = judged.layout, judged.layout.series.slot_mm / 2
    turn = _surface_turn(judged, s_mm)
    return abs(turn + sum(bend.angle_deg for bend in prebends_of(layout) if abs(s_mm - bend.s_mm) < half))


def _stretch_mm(judged: RuleInput, part: Stretch) -> tuple[float, float]:
    """A stretch of shaft, as ``s`` from the proximal end, mm."""
    length = judged.layout.shape.length_mm
    return (part.from_mm, part.to_mm) if part.end == "proximal" else (length - part.to_mm, length - part.from_mm)


@ANATOMY_RULES.rule(
    "structures-at-risk",
    "note",
    says="Nerves and vessels that a plate on this surface of the bone reaches, with the published distances.",
    why="Where the plate reaches the stretch that a nerve or vessel crosses, it has to be found or kept away from.",
    source="cadaver and imaging series, each named in the bone table; which surface meets which: common practice, no "
    "source",
    standing="published",
    on="humans",
)
def structures_at_risk(judged: RuleInput) -> Iterator[Finding]:
    """One note: the structures of the plate's surface whose stretch it reaches or comes near, with the holes."""
    near = judged.thresholds.value("structures-at-risk", "near_mm")
    start, end = judged.layout.plate_ends_mm
    told, sources = [], []
    surface = judged.construct.surface
    for risk in judged.layout.bone.at_risk:
        low, high = _stretch_mm(judged, risk)
        if surface not in risk.surfaces or start > high + near or end < low - near:
            continue
        numbers = [hole.number for hole in judged.layout.holes if low <= hole.s_mm <= high]
        where = f"under {holes(numbers)}" if numbers else "near the plate's end"
        told.append(
            f"{risk.name[0].upper()}{risk.name[1:]} {where} ({risk.from_mm:g} to {risk.to_mm:g} mm from the {risk.end} "
            f"end). {risk.advice}"
        )
        sources.append(f"{risk.name}: {risk.figure.source} ({risk.figure.standing})")
    if told:
        message = f"With the plate {judged.construct.on_surface}: {' '.join(told)}"
        yield Finding(message, ("plate",), None, None, "; ".join(sources))


@ANATOMY_RULES.rule(
    "joints-to-check",
    "note",
    says="A fracture on this stretch of the shaft often comes with a hurt joint, which is checked.",
    why="The bone is broken where the other bone of the limb, or the joint between them, takes the rest of the blow. "
    "Missed, the joint stays dislocated or unstable under a well plated shaft.",
    source="StatPearls 2023, chapters on the fracture, each named in the bone table",
    standing="handbook",
    on="humans",
)
def joints_to_check(judged: RuleInput) -> Iterator[Finding]:
    """Joints that belong to the place of the fracture."""
    low, high = judged.layout.fracture.extent_mm
    bones = {construct.bone.name for construct in judged.case.constructs}
    both = bones >= FOREARM
    for joint in judged.layout.bone.joints:
        start, end = _stretch_mm(judged, joint)
        if high < start or low > end or (joint.alone and both and judged.construct.bone.name in FOREARM):
            continue
        where = f"the fracture lies within {joint.to_mm:g} mm of the {joint.end} end"
        message = f"Check the {joint.name}: {where}. {joint.advice}"
        yield Finding(message, ("bone",), None, None, f"{joint.figure.source} ({joint.figure.standing})")


@ANATOMY_RULES.rule(
    "alternatives",
    "note",
    says="For some shafts another treatment than a plate is usual.",
    why="The plan should say why this patient gets a plate: the reason is asked for at the conference, and in theatre "
    "when it comes to it.",
    source="common practice, no source",
    standing="common practice",
    on="none",
)
def alternatives(judged: RuleInput) -> Iterator[Finding]:
    """The usual other treatment of this bone's shaft."""
    other = judged.layout.bone.alternative
    if other is not None:
        yield Finding(other.text, ("bone",), None, None, f"{other.figure.source} ({other.figure.standing})")
