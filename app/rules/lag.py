"""Lag screws: do they press, at what angle, what do they leave unpressed, and is one missing?"""

import math
from collections.abc import Iterator

from app.case.edits import RemoveLag, SetLag, SingleEdit
from app.geometry import Line, ScrewPath
from app.rules.edits import add_lag_edit, empty, remedy, role_edit, tilt_edit
from app.rules.facts import (
    catches_wedge,
    firm,
    lag_fault,
    lags,
    named,
)
from app.rules.filling import best_empty_holes
from app.rules.hold import missed
from app.rules.planes import under_plate_mm
from app.rules.registry import Finding, Registry, Remedy, RuleInput
from app.rules.trial import ROUNDING_DEG, best_lag_tilt, has_wedge, holds_fragment, lag_beside_plate, rim_mm

LAG_RULES = Registry()
ROUNDING_MM = 0.05  # lengths are told to a tenth


def _subject(judged: RuleInput, screw: ScrewPath) -> tuple[str, str]:
    return screw.id, f"line-{judged.layout.fracture.line_at(screw.s_mm).index}"


def _named(screw: ScrewPath) -> str:
    return f"The lag screw in hole {screw.hole}" if screw.hole is not None else f"The {named(screw)}"


def _for_main_line(judged: RuleInput, screw: ScrewPath, line: Line) -> bool:
    """Whether a lag screw is meant for the line itself: another one holds the wedge already."""
    return has_wedge(judged, line) and any(
        other is not screw and catches_wedge(judged, other) for other in lags(judged)
    )


def _better(judged: RuleInput, screw: ScrewPath) -> Remedy | None:
    """Aim the lag screw so that it presses its line well: within its hole's reach, else as an independent one."""
    line = judged.layout.fracture.line_at(screw.s_mm)
    main = _for_main_line(judged, screw, line)
    if screw.hole is None:
        return _set_beside(judged, screw, line, main)
    tilt = best_lag_tilt(judged, screw.hole, line, main=main)
    if tilt is not None:
        return remedy(f"Lean it to {tilt:g}°", [tilt_edit(judged, screw.hole, tilt)])
    stays = holds_fragment(judged, screw.hole, "neutral")
    lag = lag_beside_plate(judged, line, None if stays else screw.id, main=main)
    if lag is None:
        return None
    return remedy("Put in an independent lag screw instead", [*_in_its_stead(judged, screw), add_lag_edit(judged, lag)])


def _in_its_stead(judged: RuleInput, screw: ScrewPath) -> list[SingleEdit]:
    """What becomes of a lag screw's hole: a neutral screw where one holds, else empty and its hold made good."""
    if screw.hole is None:
        return []
    if holds_fragment(judged, screw.hole, "neutral"):
        return [role_edit(judged, screw.hole, "neutral", 0.0)]
    names = [fragment.name for fragment in judged.layout.fracture.fragments]
    free = best_empty_holes(judged, names.index(screw.home), 1, "neutral") if screw.home in names else []
    more = free if missed(judged, screw) else []
    return [role_edit(judged, screw.hole, "empty", 0.0), *(role_edit(judged, n, "neutral", 0.0) for n in more)]


def _set_beside(judged: RuleInput, screw: ScrewPath, line: Line, main: bool) -> Remedy | None:
    lag = lag_beside_plate(judged, line, screw.id, main=main)
    if lag is None:
        return None
    index = int(screw.id[1:]) - 1
    edit = SetLag(target=judged.target, lag=index, position_mm=lag.position_mm, tilt_deg=lag.tilt_deg, screw=lag.screw)
    if lag.turn_deg != screw.turn_deg:
        edit = edit.model_copy(update={"turn_deg": lag.turn_deg})
    return remedy("Set it square through the fracture", [edit])


def _gone(judged: RuleInput, screw: ScrewPath) -> Remedy:
    """Take the lag screw out."""
    if screw.hole is not None:
        return empty(judged, [screw.hole])
    index = int(screw.id[1:]) - 1
    return remedy("Take it out", [RemoveLag(target=judged.target, lag=index)])


@LAG_RULES.rule(
    "lag-valid",
    "stop",
    says="A lag screw glides in one fragment, holds in the other, crosses the line between, and leaves a sound rim.",
    why="Only then does its head draw the two together. With both cortices on one side, or in a zone, it presses "
    "nothing; close to the edge the rim of bone may break out when it is tightened.",
    source="AO Surgery Reference, hand: gliding hole near, thread hole far. The rim: AO Surgery Reference, lag screw "
    "fixation (veterinary page; no human source found for it): at least 1 diameter from the fracture line",
    standing="handbook",
    on="veterinary",
)
def lag_valid(judged: RuleInput) -> Iterator[Finding]:
    """Lag screws that press nothing (stop), and thin rims (caution)."""
    diameters = judged.thresholds.value("lag-valid", "rim_diameters")
    for screw in lags(judged):
        fault = lag_fault(judged, screw)
        if fault is not None:
            way = _better(judged, screw) or _gone(judged, screw)
            yield Finding(f"{_named(screw)} {fault}.", _subject(judged, screw), None, way)
            continue
        rim, least = rim_mm(judged, screw), diameters * screw.spec.thread_mm
        if rim < least - 1e-6:
            message = f"{_named(screw)} leaves a rim of {rim:.1f} mm at the fracture edge; {least:g} mm at least."
            yield Finding(message, _subject(judged, screw), "caution", _better(judged, screw))


def _out_of_reach(judged: RuleInput, screw: ScrewPath, limit_deg: float) -> str:
    """That no screw through the plate can stand square to a line that is turned so far, where that is so."""
    line = judged.layout.fracture.line_at(screw.s_mm)
    leans_out = abs(line.across) / math.sqrt(1 + line.slope**2 + line.across**2)
    if screw.hole is None or math.degrees(math.asin(leans_out)) <= limit_deg:
        return ""
    turn = abs(line.turn_deg)
    return f" The line is turned {turn:.0f}° about the shaft: no screw through the plate can stand square to it."


@LAG_RULES.rule(
    "lag-under-plate",
    "caution",
    says="The head of an independent lag screw lies clear of the plate.",
    why="Under the plate it keeps the plate off the bone, or can't be seated; it is turned further about the shaft, "
    "or the plate is laid elsewhere.",
    source="geometry: where the head lies, the plate's width and the head's diameter from the tables",
    standing="common practice",
    on="calculation",
)
def lag_under_plate(judged: RuleInput) -> Iterator[Finding]:
    """Turned lag screws whose head the plate covers; one in the profile's plane is driven beside the plate."""
    for screw in judged.layout.screws:
        covered = under_plate_mm(judged.layout, screw)
        if covered > ROUNDING_MM:
            message = f"{_named(screw)} has {min(covered, screw.spec.head_mm):.1f} mm of its head under the plate."
            yield Finding(message, (screw.id, "plate"), None, _better(judged, screw))


@LAG_RULES.rule(
    "lag-angle",
    "caution",
    says="A lag screw stands square to the fracture, to 20°, and leans no further than its hole lets it.",
    why="Off the perpendicular a part of its force runs along the fracture; past 20° the fragments tend to slide. A "
    "head that leans too far does not seat.",
    source="Johner 1983, in Wheeless' Textbook of Orthopaedics, lag screw theory: more than 20° lets the fragments "
    "slide; reach of the hole from the plate table",
    standing="handbook",
    on="humans",
)
def lag_angle(judged: RuleInput) -> Iterator[Finding]:
    """Angles of lag screws that press; tilts beyond the reach of the hole, of any cortex screw."""
    limit = judged.thresholds.value("lag-angle", "sliding_deg")
    for screw in lags(judged):
        angle = screw.angle_to_normal_deg
        if angle is not None and angle > limit + ROUNDING_DEG and lag_fault(judged, screw) is None:
            message = (
                f"{_named(screw)} stands {angle:.0f}° off the perpendicular to the fracture; past {limit:g}° fragments "
                f"tend to slide.{_out_of_reach(judged, screw, limit)}"
            )
            yield Finding(message, _subject(judged, screw), None, _better(judged, screw))
    reach = judged.layout.series.reach_deg
    for screw in judged.layout.screws:
        if screw.hole is not None and abs(screw.tilt_deg) > reach + 1e-6:
            message = (
                f"The screw in hole {screw.hole} leans {screw.tilt_deg:+.0f}°, but the hole lets it lean {reach:g}°."
            )
            held = reach if screw.tilt_deg > 0 else -reach
            way = remedy(f"Lean it to {held:+g}°", [tilt_edit(judged, screw.hole, held)])
            level = firm(judged.layout.series.figures["reach_deg"].standing, "caution")
            yield Finding(message, (screw.id,), level, way)
