"""Fracture pattern: does the code say what is drawn, and does the principle suit it?"""

from collections.abc import Iterator

from app.case.codes import PREFIXES, UNGROUPED, FractureCode, parse_code
from app.case.edits import SetCode, SetPrinciple
from app.case.models import Principle
from app.geometry import Line
from app.rules.after import after
from app.rules.calm import unpulled
from app.rules.edits import add_lag_edit, holes, listed, remedy
from app.rules.faces import main_line_edits
from app.rules.facts import MAX_LAGS, catches_wedge, is_simple, presses_main_line, pressing, pulled
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput
from app.rules.trial import lag_beside_plate

PATTERN_RULES = Registry()
SHOWN = {"A": "one bare line", "B": "a wedge", "C": "several lines or a zone without bone"}


def drawn_pattern(judged: RuleInput) -> str:
    """The AO/OTA pattern of what is drawn: a line that winds is spiral, else one that is steep enough oblique."""
    fracture = judged.construct.fracture
    zone = any(line.zone_mm > 0 for line in fracture.lines)
    if len(fracture.lines) > 1:
        full = "C3" if zone else "C2"
    elif fracture.wedge is not None:
        full = "B3" if zone else "B2"
    elif zone:
        full = "C3"
    else:
        limit = judged.thresholds.value("pattern-angle", "oblique_from_deg")
        steep = abs(fracture.lines[0].obliquity_deg) >= limit
        winds = judged.layout.fracture.lines[0].spiral is not None
        full = "A1" if winds else "A2" if steep else "A3"
    if judged.construct.bone.name == "fibula":
        return "A" if full[0] == "A" else "B"
    return full[0] if judged.construct.bone.name in UNGROUPED else full


def _alike(code: FractureCode, drawn: str) -> bool:
    """Whether a code may be drawn so: spiral as a plane, and a fragmented wedge as a wedge or a short zone."""
    same = {"A1": {"A2"}, "B": {"C"}, "B3": {"B2", "C3"}, "C3": {"C2"}}
    return drawn == code.pattern or drawn in same.get(code.pattern, set())


def _code_remedy(judged: RuleInput, pattern: str) -> Remedy:
    text = PREFIXES[judged.construct.bone.name] + pattern
    return remedy(f"Code it {text}", [SetCode(target=judged.target, code=text)])


@PATTERN_RULES.rule(
    "pattern-angle",
    "note",
    says="The AO/OTA code and the drawing say the same: bone, number of lines, and oblique from 30° on.",
    why="A plan whose code and drawing differ will be read in two ways. The compendium draws the line between "
    "transverse and oblique at 30° to the perpendicular.",
    source="AO/OTA compendium 2018 (J Orthop Trauma 32 Suppl 1), shaft groups A1 to A3; that 30° itself is oblique: "
    "AO Surgery Reference, humeral shaft, a page headed oblique, 30° or more (beginning read)",
    standing="published",
    on="humans",
)
def pattern_angle(judged: RuleInput) -> Iterator[Finding]:
    """Compare the code with bone, lines and obliquity."""
    if judged.construct.fracture.code is None:
        return
    code = parse_code(judged.construct.fracture.code)
    drawn = drawn_pattern(judged)
    bone = judged.construct.bone.name
    if code.bone != bone:
        message = f"Code {code.text} belongs to the {code.bone}, but the bone is the {bone}."
        yield Finding(message, ("bone",), "caution", _code_remedy(judged, drawn))
    elif not _alike(code, drawn):
        yield Finding(_differs(judged, code, drawn), ("line-0",), None, _code_remedy(judged, drawn))


def _differs(judged: RuleInput, code: FractureCode, drawn: str) -> str:
    if code.kind == drawn[0] == "A":
        angle = abs(judged.construct.fracture.lines[0].obliquity_deg)
        limit = judged.thresholds.value("pattern-angle", "oblique_from_deg")
        if drawn == "A1":
            return f"Code {code.text} means {code.name}, but the line is drawn as one that winds round the shaft."
        side = "below" if angle < limit else "not below"
        return f"Code {code.text} means {code.name}, but the line is drawn at {angle:.0f}°, {side} {limit:g}°."
    return f"Code {code.text} means {code.name}, but {SHOWN[drawn[0]]} is drawn."


@PATTERN_RULES.rule(
    "principle-fit",
    "caution",
    says="Simple fractures are compressed, multifragmentary ones bridged, and a wedge is lagged or bridged.",
    why="The motion of a bridged simple fracture falls on one narrow gap, so that its strain is high unless the plate "
    "is long and its screws stand apart. A zone without bone can't be compressed: it only shortens. A large wedge left "
    "loose takes no load.",
    source="strain theory (Perren, teaching page), gap assumed; AO Surgery Reference, forearm "
    "wedge fractures: large wedges are fixed to a main fragment, small ones left alone",
    standing="handbook",
    on="humans",
)
def principle_fit(judged: RuleInput) -> Iterator[Finding]:
    """Principle against what is drawn."""
    if judged.construct.principle != "compression":
        yield from _pulled_unasked(judged)
    if judged.construct.principle == "bridging":
        yield from _bridged_simple(judged)
        return
    yield from _zone_not_bridged(judged)
    yield from _loose_wedge(judged)


def _change_to(judged: RuleInput, principle: Principle) -> Remedy:
    """The principle, and nothing left that presses where it is not to press."""
    calm = () if principle == "compression" else unpulled(judged, principle)
    return remedy(f"Change to {principle}", [SetPrinciple(target=judged.target, principle=principle), *calm])


def _pulled_unasked(judged: RuleInput) -> Iterator[Finding]:
    """Eccentric screws and a pre-bend where the plate is not to compress."""
    principle, bend = judged.construct.principle, judged.construct.plate.prebend_mm
    pulls = [screw for screw in judged.layout.screws if screw.role == "eccentric"]
    if not pulls and not bend:
        return
    zone = any(line.zone_mm > 0 for line in judged.layout.fracture.lines)
    numbers = [screw.hole for screw in pulls if screw.hole is not None]
    what = [f"eccentric in {holes(numbers)}"] if numbers else []
    what += [f"a pre-bend of {bend:g} mm"] if bend else []
    harm = "it shortens the zone" if zone and pulls else "the plate is not to press along the shaft"
    message = f"{principle.capitalize()} is planned, but with {listed(what)}: {harm}."
    # over a zone a stop by geometry, as under compression: there is nothing for the faces to be pressed against
    level: Level | None = "stop" if zone and pulls else None
    way = remedy("Take the compression out", unpulled(judged, principle))
    yield Finding(message, (*(screw.id for screw in pulls), "plate"), level, way)


def _bridged_simple(judged: RuleInput) -> Iterator[Finding]:
    gap = judged.construct.fracture.gap_mm
    limit = judged.thresholds.value("principle-fit", "small_gap_mm")
    if is_simple(judged) and gap <= limit:
        message = (
            f"A simple fracture with a gap of {gap:g} mm is bridged: the smaller the gap, the more the same motion "
            f"strains it (told up to {limit:g} mm, assumed)."
        )
        yield Finding(message, ("line-0",), "note", _compress(judged))


def _compress(judged: RuleInput) -> Remedy | None:
    """Change to compression where the screws suit it: one presses, and none holds the fragments apart."""
    apart = any(screw.role != "lag" and screw.crosses_fracture for screw in judged.layout.screws)
    return _change_to(judged, "compression") if pressing(judged) and not apart else None


def _zone_not_bridged(judged: RuleInput) -> Iterator[Finding]:
    limit = judged.thresholds.value("principle-fit", "zone_from_mm")
    principle = judged.construct.principle
    done = "compressed: it can only shorten" if principle == "compression" else "to be lagged: it has no faces to press"
    for line in judged.layout.fracture.lines:
        if line.zone_mm >= limit:
            message = f"A zone of {line.zone_mm:g} mm without load-bearing bone is {done}."
            # a stop by geometry, not by the assumed limit: nothing is there for the faces to be pressed against
            level: Level | None = "stop" if principle == "compression" else None
            yield Finding(message, (f"line-{line.index}",), level, _change_to(judged, "bridging"))


def _loose_wedge(judged: RuleInput) -> Iterator[Finding]:
    wedge = judged.construct.fracture.wedge
    if wedge is None or any(catches_wedge(judged, screw) for screw in judged.layout.screws):
        return
    line = judged.layout.fracture.lines[wedge.line]
    large = judged.thresholds.value("principle-fit", "wedge_large_depths") * line.depth_mm
    size = "large" if wedge.length_mm >= large else "small"
    message = (
        f"The wedge of {wedge.length_mm:g} mm ({size}: the shaft is {line.depth_mm:.0f} mm deep) is neither lagged nor "
        "bridged."
    )
    level: Level | None = None if size == "large" else "note"
    yield Finding(message, ("wedge", f"line-{wedge.line}"), level, _catch_wedge(judged, line))


def _catch_wedge(judged: RuleInput, line: Line) -> Remedy | None:
    """A lag screw that catches it, and what then presses the main line; a bridge where that can't be."""
    lag = lag_beside_plate(judged, line) if len(judged.construct.lag_screws) < MAX_LAGS else None
    if lag is None:
        return _bridge_if_thin(judged)
    caught = add_lag_edit(judged, lag)
    then = after(judged, caught)
    if then is None or presses_main_line(then, line) or pulled(then, line):
        return remedy("Catch the wedge with an independent lag screw", [caught])
    more = main_line_edits(then, line)
    if not more:
        return _bridge_if_thin(judged)
    return remedy("Catch the wedge with an independent lag screw, and press the main line", [caught, *more])


def _bridge_if_thin(judged: RuleInput) -> Remedy | None:
    """A bridge, where no more holes would be filled than one bears."""
    way = _change_to(judged, "bridging")
    then = after(judged, way.edit)
    most = judged.thresholds.value("screw-density", "bridging_max")
    return way if then is not None and then.summary.screw_density <= most + 1e-9 else None
