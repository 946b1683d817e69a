"""Screws near the fracture and near each other: clearance, crossing, standing over the zone."""

from collections.abc import Iterator
from itertools import combinations

from app.case.edits import SetRole
from app.case.models import Role
from app.geometry import Line, ScrewPath
from app.geometry.fracture import WEDGE, ZONE
from app.rules.after import after, first_sound
from app.rules.edits import empty, holes, remedy, role_edit, tilt_edit
from app.rules.facts import lags, lines_pressed, listed_screws, named, presses_main_line, pulled
from app.rules.filling import best_empty_holes
from app.rules.hold import missed
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput
from app.rules.screw_distance import screw_distance_mm
from app.rules.trial import best_lag_tilt, has_wedge, holds_fragment

NEAR_RULES = Registry()


def _line_id(judged: RuleInput, screw: ScrewPath) -> str:
    return f"line-{judged.layout.fracture.line_at(screw.s_mm).index}"


def _leave_empty(judged: RuleInput, screw: ScrewPath) -> Remedy | None:
    """Leave its hole empty; where its fragment then lacks hold, put the screw into another hole over it, if any.

    Where nothing else presses the line that it closes, another screw has to do that in the same step.
    """
    if screw.hole is None:
        return None
    line = judged.layout.fracture.line_at(screw.s_mm)
    if pulled(judged, line) == [screw] and not any(line in lines_pressed(judged, lag) for lag in lags(judged)):
        return first_sound(judged, _pulled_elsewhere(judged, screw, screw.hole, line))
    fragment = next((f for f in judged.layout.fracture.fragments if f.name == screw.home), None)
    if fragment is None or not missed(judged, screw):
        return empty(judged, [screw.hole])
    free = best_empty_holes(judged, fragment.index, 1, screw.role)
    if not free:
        return None
    edits = [role_edit(judged, screw.hole, "empty"), role_edit(judged, free[0], screw.role, 0.0)]
    return remedy(f"Move the screw from hole {screw.hole} to {free[0]}", edits)


def _pulled_elsewhere(judged: RuleInput, screw: ScrewPath, used: int, line: Line) -> Iterator[Remedy]:
    """The eccentric screw in the next sound hole, or the next screw eccentric in its stead; its own side first."""
    own = line.index if screw.s_mm < line.position_mm else line.index + 1
    needed = missed(judged, screw)
    for side in (own, 2 * line.index + 1 - own):
        near = [h for h in judged.layout.holes if h.fragment == side and judged.layout.fracture.line_at(h.s_mm) is line]
        for hole in sorted(near, key=lambda hole: abs(hole.s_mm - line.position_mm)):
            role = judged.construct.holes[hole.number - 1].role
            if (
                hole.number == used
                or role in ("lag", "eccentric")
                or not holds_fragment(judged, hole.number, "neutral")
            ):
                continue
            pull = [role_edit(judged, used, "empty"), role_edit(judged, hole.number, "eccentric", 0.0)]
            if role == "empty":
                yield remedy(f"Move the screw from hole {used} to {hole.number}", pull)
                continue
            turn = f"make the screw in hole {hole.number} eccentric"
            if not needed:
                yield remedy(f"Leave hole {used} empty and {turn}", pull)
            elif free := best_empty_holes(judged, own, 1, "neutral"):
                pull.append(role_edit(judged, free[0], "neutral", 0.0))
                yield remedy(f"Move the screw from hole {used} to {free[0]} and {turn}", pull)


def _further_out(judged: RuleInput, screw: ScrewPath) -> Remedy | None:
    """Set the screw upright, or one hole further from the fracture, or leave its hole empty."""
    if screw.hole is None:
        return None
    role = screw.role
    if screw.tilt_deg and role != "eccentric" and holds_fragment(judged, screw.hole, role):
        return remedy(f"Set the screw in hole {screw.hole} upright", [tilt_edit(judged, screw.hole, 0.0)])
    line = judged.layout.fracture.line_at(screw.s_mm)
    number = screw.hole + (1 if screw.s_mm > line.position_mm else -1)
    if 1 <= number <= len(judged.layout.holes):
        place = judged.layout.holes[number - 1]
        same = place.fragment is not None and judged.layout.fracture.fragments[place.fragment].name == screw.home
        if same and judged.construct.holes[number - 1].role == "empty" and holds_fragment(judged, number, role):
            edits = [role_edit(judged, screw.hole, "empty"), role_edit(judged, number, role, 0.0)]
            return remedy(f"Move the screw from hole {screw.hole} to {number}", edits)
    return _leave_empty(judged, screw)


@NEAR_RULES.rule(
    "near-fracture",
    "caution",
    says="A screw keeps its distance from the fracture line, and two screws from each other. Staggered holes are taken "
    "as in line: beside a line that is turned about the shaft, look at the face view.",
    why="Drilled close to its edge, bone may split into the fracture. Two holes close together weaken the bone between "
    "them, and two screws on one path can't both be placed.",
    source="AO Surgery Reference, lag screw fixation (veterinary page; no human source found for the figures): at "
    "least 1 diameter from any fracture line, screws at least 2 diameters apart",
    standing="handbook",
    on="veterinary",
)
def near_fracture(judged: RuleInput) -> Iterator[Finding]:
    """Clearance from the line (lag screws have their own rule), then distances between screws."""
    diameters = judged.thresholds.value("near-fracture", "clearance_diameters")
    for screw in judged.layout.screws:
        least = diameters * screw.spec.thread_mm
        if screw.role == "lag" or screw.crosses_fracture or screw.home is None:
            continue
        if screw.clear_of_fracture_mm < least - 1e-6:
            message = (
                f"The screw in {named(screw)} passes {screw.clear_of_fracture_mm:.1f} mm from the fracture; "
                f"{least:g} mm at least."
            )
            yield Finding(message, (screw.id, _line_id(judged, screw)), None, _further_out(judged, screw))
    yield from _too_close(judged)


def _too_close(judged: RuleInput) -> Iterator[Finding]:
    """Pairs in holes, and pairs beside the plate; one of each stand side by side, unless the one beside is turned."""
    diameters = judged.thresholds.value("near-fracture", "spacing_diameters")
    reach = 2 * judged.layout.series.pitch_mm
    for one, other in combinations(judged.layout.screws, 2):
        if not _may_meet(one, other) or (one.hole and other.hole and abs(one.s_mm - other.s_mm) > reach):
            continue
        distance = screw_distance_mm(one, other)
        least = diameters * max(one.spec.thread_mm, other.spec.thread_mm)
        if distance < least - 1e-6 and not _usual_beside_lag(one, other, distance, least):
            yield _close_finding(judged, one, other, distance, least)


def _may_meet(one: ScrewPath, other: ScrewPath) -> bool:
    """Whether two screws share a plane, or one runs across the other's."""
    return (one.hole is None) == (other.hole is None) or one.turn_deg != 0 or other.turn_deg != 0


def _usual_beside_lag(one: ScrewPath, other: ScrewPath, distance: float, least: float) -> bool:
    """Whether only the tips come near, as is usual beside a leaning lag screw, which can't be leant otherwise."""
    apart = abs(one.passages[0].entry[0] - other.passages[0].entry[0]) >= least
    touching = distance < (one.spec.thread_mm + other.spec.thread_mm) / 2
    return apart and not touching and any(screw.role == "lag" and screw.tilt_deg for screw in (one, other))


def _close_finding(judged: RuleInput, one: ScrewPath, other: ScrewPath, distance: float, least: float) -> Finding:
    touching = distance < (one.spec.thread_mm + other.spec.thread_mm) / 2
    level: Level | None = None
    if touching:
        level = "stop"
    elif abs(one.passages[0].entry[0] - other.passages[0].entry[0]) >= least:
        level = "note"  # only the tips come together
    word = "run into each other" if touching else f"come within {distance:.1f} mm of each other; {least:g} mm at least"
    message = f"The screws in {listed_screws(one, other)} {word}."
    mend = _upright(judged, one, other)
    if mend is None and touching and one.hole and other.hole and not one.tilt_deg and not other.tilt_deg:
        # square to a plate on a flare, two screws run together: one of them has to go
        mend = first_sound(judged, (_leave_empty(judged, screw) for screw in (one, other)))
    return Finding(message, (one.id, other.id), level, mend)


def _upright(judged: RuleInput, one: ScrewPath, other: ScrewPath) -> Remedy | None:
    """Set leaning screws of the plate upright, where they then keep apart; square to a plate on a flare they may not.

    A lag screw keeps its lean, which its line asks for.
    """
    if any(s.role == "lag" and s.tilt_deg for s in (one, other)):
        return None
    lean = [s.hole for s in (one, other) if s.hole is not None and s.tilt_deg]
    least = judged.thresholds.value("near-fracture", "spacing_diameters") * max(s.spec.thread_mm for s in (one, other))
    room = judged.layout.series.pitch_mm - 2 * judged.layout.series.travel_mm
    if not lean or room < least or judged.trial:
        return None
    edits = [tilt_edit(judged, number, 0.0) for number in lean]
    then = after(judged, *edits)
    if then is None or screw_distance_mm(then.layout.screw(one.id), then.layout.screw(other.id)) < least - 1e-6:
        return None
    return remedy(f"Set the screw{'s' if len(lean) > 1 else ''} in {holes(lean)} upright", edits)


@NEAR_RULES.rule(
    "crosses-fracture",
    "caution",
    says="Only a lag screw crosses the fracture.",
    why="A screw with thread on both sides of a line holds the two at the distance at which it finds them: nothing "
    "can close the gap any more.",
    source="AO Surgery Reference, hand, long oblique phalanx (whole step read): a screw with thread in both cortices "
    "across a fracture holds the fragments apart and presses nothing",
    standing="handbook",
    on="humans",
)
def crosses_fracture(judged: RuleInput) -> Iterator[Finding]:
    """Screws other than lag screws that hold two pieces, or pass through the line."""
    for screw in judged.layout.screws:
        if screw.role == "lag" or not screw.crosses_fracture or ZONE in screw.owners or screw.home is None:
            continue
        pieces = {passage.owner for passage in screw.passages if passage.holds}
        level = _crossing_level(judged, pieces)
        held = " and the ".join(sorted(pieces, key=screw.owners.index))
        if len(pieces) > 1:
            message = f"The screw in {named(screw)} has thread in the {held} piece at once and holds them apart."
        else:
            message = (
                f"The screw in {named(screw)} runs through the fracture line and holds only in the {held} fragment."
            )
        yield Finding(message, (screw.id, _line_id(judged, screw)), level, _glide_or_go(judged, screw))


def _crossing_level(judged: RuleInput, pieces: set[str]) -> Level | None:
    if WEDGE in pieces:
        return "note"
    return "stop" if len(pieces) > 1 and judged.construct.principle != "bridging" else None


def _glide_or_go(judged: RuleInput, screw: ScrewPath) -> Remedy | None:
    """Make it a lag screw where that would press the line well, else leave the hole empty."""
    if screw.hole is None:
        return None
    role: Role = "lag"
    line = judged.layout.fracture.line_at(screw.s_mm)
    tilt = best_lag_tilt(judged, screw.hole, line) if judged.construct.principle != "bridging" else None
    if tilt is None:
        return _leave_empty(judged, screw)
    edit = role_edit(judged, screw.hole, role, tilt)
    if missed(judged, screw) or _leaves_line_loose(judged, edit, line):
        return _leave_empty(judged, screw)
    return remedy(f"Make the screw in hole {screw.hole} a lag screw", [edit])


def _leaves_line_loose(judged: RuleInput, edit: SetRole, line: Line) -> bool:
    """Whether it would only catch the wedge, with nothing to press the main line."""
    then = after(judged, edit)
    if then is None or not has_wedge(judged, line):
        return then is None
    return not presses_main_line(then, line) and not pulled(then, line)


@NEAR_RULES.rule(
    "over-zone",
    "caution",
    says="No screw stands in the zone: there it holds nothing.",
    why="Where the fracture leaves no load-bearing bone a screw only strips pieces of their blood supply.",
    source="AO Surgery Reference, femoral shaft, bridge plating: no screws in the fracture zone",
    standing="handbook",
    on="humans",
)
def over_zone(judged: RuleInput) -> Iterator[Finding]:
    """Screws that hold nothing, and screws with one cortex over a zone or gap."""
    for screw in judged.layout.screws:
        if screw.role == "lag":
            continue
        subject = (screw.id, _line_id(judged, screw))
        if screw.home is None:
            message = f"The screw in {named(screw)} stands in the fracture and holds no cortex."
            yield Finding(message, subject, None, _leave_empty(judged, screw))
        elif ZONE in screw.owners:
            message = f"The screw in {named(screw)} holds one cortex only: the other has no load-bearing bone."
            yield Finding(message, subject, "note", _leave_empty(judged, screw))
