"""Are the faces pressed? Lines that want a lag screw, steep ones, gaps that stay, the line beside a lagged wedge."""

import math
from collections.abc import Iterator

from app.case.edits import SetGap, SetPrebend, SetPrinciple, SetRole, SingleEdit
from app.geometry import Line
from app.rules.after import after
from app.rules.calm import unpulled
from app.rules.edits import add_lag_edit, listed, remedy, role_edit
from app.rules.facts import (
    MAX_LAGS,
    bend_mm,
    catches_wedge,
    holding_screws,
    lags,
    lines_pressed,
    named,
    obtuse_side,
    presses_main_line,
    pulled,
    wants_bend,
)
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput
from app.rules.trial import best_lag_tilt, holds_fragment, lag_beside_plate

FACE_RULES = Registry()


def is_steep(judged: RuleInput, line: Line) -> bool:
    """Whether a line is so oblique that pressing along the shaft mainly shears it."""
    return line.steepness_deg >= judged.thresholds.value("steep-line", "from_deg")


@FACE_RULES.rule(
    "steep-line",
    "caution",
    says="A line steeper than about 60° is not compressed along the shaft alone: it is lagged and protected.",
    why="The force of the plate splits at the faces: at 60° six sevenths of it run along the line and make the "
    "fragments slide, and only half presses. A lag screw square to the line presses it; the plate then protects.",
    source="force of the plate along a line at 60°: its sine (statics); AO Surgery Reference, humeral shaft 12-A2, "
    "long oblique: lag screws hold the reduction, with a neutralisation plate; the angle from memory",
    standing="handbook",
    on="humans",
)
def steep_line(judged: RuleInput) -> Iterator[Finding]:
    """Steep lines that an eccentric screw closes and no lag screw presses."""
    for line in judged.layout.fracture.lines:
        pulls = pulled(judged, line)
        if pulls and is_steep(judged, line) and not presses_main_line(judged, line):
            angle = line.steepness_deg
            along = 100 * math.sin(math.radians(angle))
            message = (
                f"The line at {angle:.0f}° is to be closed along the shaft, where {along:.0f} % of that force runs "
                "along it: lag it, and let the plate protect (angle from memory)."
            )
            ids = tuple(sorted(screw.id for screw in pulls))
            yield Finding(message, (f"line-{line.index}", *ids), None, _lag_and_protect(judged, line))


def _lag_and_protect(judged: RuleInput, line: Line) -> Remedy | None:
    """A lag screw across the line, the eccentric screws neutral, the plate for protection."""
    lag = lag_beside_plate(judged, line) if len(judged.construct.lag_screws) < MAX_LAGS else None
    if lag is None:
        return None
    edits = [*unpulled(judged, "protection"), add_lag_edit(judged, lag)]
    edits.append(SetPrinciple(target=judged.target, principle="protection"))
    return remedy("Put an independent lag screw across it and change to protection", edits)


@FACE_RULES.rule(
    "lag-over-gap",
    "caution",
    says="A lag screw presses faces that meet: across a gap that stays open it presses nothing.",
    why="The head draws the near fragment up only as far as the plate and the other screws let it. Where the gap is "
    "kept, the screw bends or strips and the faces never touch.",
    source="statics: no contact, no pressure; that a lag closes half a millimetre by itself is assumed",
    standing="common practice",
    on="none",
)
def lag_over_gap(judged: RuleInput) -> Iterator[Finding]:
    """Lag screws across a gap that no eccentric screw closes either."""
    small = judged.thresholds.value("lag-over-gap", "closes_mm")
    gap = judged.construct.fracture.gap_mm
    for line in judged.layout.fracture.lines:
        across = [screw for screw in lags(judged) if line in lines_pressed(judged, screw)]
        closed = judged.layout.series.travel_mm * len(pulled(judged, line))
        if not across or line.zone_mm > 0 or gap - closed <= small + 1e-9:
            continue
        message = (
            f"A gap of {gap:g} mm is planned to stay where {listed(named(screw) for screw in across)} should press: "
            "faces that don't meet can't be pressed. Reduce it first."
        )
        way = remedy("Reduce the fracture: gap 0 mm", [SetGap(target=judged.target, gap_mm=0.0)])
        yield Finding(message, (*(screw.id for screw in across), f"line-{line.index}"), None, way)


@FACE_RULES.rule(
    "residual-line",
    "caution",
    says="Where a wedge is lagged, the main line beside it is pressed too, by a lag screw or along the shaft; or the "
    "whole is bridged.",
    why="The lag joins the wedge to one fragment and leaves a simple fracture between the two. If nothing presses it, "
    "it moves under every load, and the little bone that touches there carries it.",
    source="common practice, no source: no text on the line left over was found; a simple fracture that is not bridged "
    "is pressed (AO Surgery Reference, forearm wedge fractures: the wedge is first joined to a main fragment)",
    standing="common practice",
    on="none",
)
def residual_line(judged: RuleInput) -> Iterator[Finding]:
    """A wedge that is lagged beside a line that nothing presses."""
    line = _left_over(judged)
    if line is None:
        return
    who = listed(named(screw) for screw in lags(judged) if catches_wedge(judged, screw))
    message = f"The wedge is lagged by {who}, but nothing presses the main line beside it."
    yield Finding(message, (f"line-{line.index}", "wedge"), None, _press_main_line(judged, line))


def _left_over(judged: RuleInput) -> Line | None:
    """The line beside a lagged wedge, if nothing presses it."""
    wedge = judged.layout.fracture.wedge
    if wedge is None or judged.construct.principle == "bridging":
        return None
    line = judged.layout.fracture.lines[wedge.line]
    caught = any(catches_wedge(judged, screw) for screw in lags(judged))
    pressed = line.zone_mm > 0 or presses_main_line(judged, line) or pulled(judged, line)
    return line if caught and not pressed else None


def _press_main_line(judged: RuleInput, line: Line) -> Remedy | None:
    """A lag screw across it; else the plate compresses it, if the wedge doesn't lie under the plate."""
    found = () if judged.trial else main_line_edits(judged, line)
    then = after(judged, *found) if found else None
    if then is None or _left_over(then) is not None:  # an eccentric screw, shifted in its hole, may miss its fragment
        return None
    first = found[0]
    if isinstance(first, SetRole):
        return remedy(f"Compress the main line: eccentric in hole {first.hole + 1}", found)
    return remedy("Put an independent lag screw across the main line too", found)


def main_line_edits(judged: RuleInput, line: Line) -> tuple[SingleEdit, ...]:
    """What presses the main line beside a lagged wedge; empty where nothing does.

    A lag screw across it where one finds room; else an eccentric screw, where the wedge leaves a corner to pull to.
    """
    full = len(judged.construct.lag_screws) >= MAX_LAGS
    lag = None if full else lag_beside_plate(judged, line, main=True)
    if lag is not None:
        return (add_lag_edit(judged, lag),)
    return compress_edits(judged, line)


def compress_edits(judged: RuleInput, line: Line) -> tuple[SingleEdit, ...]:
    """What lets the plate close a line along the shaft: one eccentric screw, and a pre-bend where the line wants one.

    Empty where it can't: the plate's holes don't pull, a side has no screw, or the wedge lies under the plate, which
    leaves no corner to pull to.
    """
    wedge = judged.layout.fracture.wedge
    if judged.layout.series.travel_mm <= 0 or (wedge is not None and wedge.side == "near"):
        return ()
    names = [judged.layout.fracture.fragments[index].name for index in (line.index, line.index + 1)]
    proximal, distal = (holding_screws(judged, name) for name in names)
    if not proximal or not distal:
        return ()
    hole = proximal[-1].hole if obtuse_side(line) == line.index + 1 else distal[0].hole
    if hole is None or not holds_fragment(judged, hole, "neutral"):
        return ()
    bend = (SetPrebend(target=judged.target, prebend_mm=bend_mm(judged)),) if wants_bend(judged, line) else ()
    pull = role_edit(judged, hole, "eccentric", 0.0)
    return pull, SetPrinciple(target=judged.target, principle="compression"), *bend


@FACE_RULES.rule(
    "lag-missing",
    "caution",
    says="An oblique or spiral fracture that is compressed has a lag screw; protection always has one.",
    why="A plate alone presses an oblique fracture along the shaft, so that its faces slide; the lag screw across it "
    "holds them. A protection plate without a lag screw protects nothing.",
    source="AO Surgery Reference, compression plates on oblique fractures: lag through the plate after axial "
    "compression, or lag screw first and a protection plate",
    standing="handbook",
    on="humans",
)
def lag_missing(judged: RuleInput) -> Iterator[Finding]:
    """Lines that want a lag screw and have none that presses."""
    principle = judged.construct.principle
    if principle == "bridging":
        return
    pressed = {line.index for screw in lags(judged) for line in lines_pressed(judged, screw)}
    limit = judged.thresholds.value("pattern-angle", "oblique_from_deg")
    level: Level | None = "stop" if principle == "protection" and not pressed else None
    for line in judged.layout.fracture.lines:
        angle = line.steepness_deg
        if line.index in pressed or line.zone_mm > 0 or (angle < limit and (principle == "compression" or pressed)):
            continue
        if is_steep(judged, line) and pulled(judged, line):
            continue  # the rule on steep lines says it, and more
        message = (
            f"No lag screw presses the line at {line.position_mm:.0f} mm ({angle:.0f}° oblique), but {principle} is "
            "planned."
        )
        yield Finding(message, (f"line-{line.index}",), level, _add(judged, line))


def _add(judged: RuleInput, line: Line) -> Remedy | None:
    """A lag screw through an empty hole over the line where one reaches, else an independent one.

    Square to a nearly transverse line a lag screw would run along the shaft: that line is compressed instead.
    """
    if line.steepness_deg < judged.thresholds.value("pattern-angle", "oblique_from_deg"):
        edits = compress_edits(judged, line)
        return remedy("Change to compression", edits) if edits else None
    for hole in judged.layout.holes:
        if hole.line == line.index and judged.construct.holes[hole.number - 1].role == "empty":
            tilt = best_lag_tilt(judged, hole.number, line)
            if tilt is not None:
                edit = role_edit(judged, hole.number, "lag", tilt)
                return remedy(f"Put a lag screw through hole {hole.number}, leaning {tilt:+g}°", [edit])
    lag = lag_beside_plate(judged, line)
    full = len(judged.construct.lag_screws) >= MAX_LAGS
    return None if lag is None or full else remedy("Put in an independent lag screw", [add_lag_edit(judged, lag)])
