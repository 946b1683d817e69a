"""Lengths along the plate: density, spread, plate span ratio and bridging span."""

import math
from collections.abc import Iterator
from itertools import chain, product

from app.geometry import Fragment, FragmentSummary, HolePlace
from app.rules.after import first_sound
from app.rules.edits import empty, fill, holes, listed, remedy, role_edit
from app.rules.facts import LOCKING, filled_up, firm, holding_screws, is_simple, minimum, plate_screws, usual_role
from app.rules.filling import with_every_hole_filled
from app.rules.longer import longer_plate, on_shaft, plate_over
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput
from app.rules.trial import holds_fragment

SPAN_RULES = Registry()


def _over(judged: RuleInput, fragment: int) -> list[HolePlace]:
    return [hole for hole in judged.layout.holes if hole.fragment == fragment]


def _outwards(judged: RuleInput, fragment: Fragment) -> list[HolePlace]:
    """Holes over a main fragment, from the fracture to the end."""
    over = _over(judged, fragment.index)
    return over[::-1] if fragment.index == 0 else over


def _mains(judged: RuleInput) -> tuple[Fragment, Fragment]:
    fragments = judged.layout.fracture.fragments
    return fragments[0], fragments[-1]


def _is_empty(judged: RuleInput, hole: HolePlace) -> bool:
    return judged.construct.holes[hole.number - 1].role == "empty"


def _spare(judged: RuleInput, fragment: Fragment) -> list[int]:
    """Holes of a main fragment that may be emptied, best first: those between its end screws, middle ones first."""
    least = minimum(judged)
    screws = plate_screws(judged, fragment.name)
    numbers = [s.hole for s in screws if s.role != "lag" and s.hole is not None]
    cortices = sum(p.holds and p.owner == fragment.name for s in screws for p in s.passages)
    surplus = min(len(numbers) - max(least.screws, math.ceil(least.cortices / 2), 2), (cortices - least.cortices) // 2)
    middle = len(numbers) / 2 - 0.5
    inner = sorted(numbers[1:-1], key=lambda number: abs(numbers.index(number) - middle))
    return inner[: max(0, surplus)]


def _thinned(judged: RuleInput, surplus: int) -> Remedy | None:
    """Empty so many holes without falling below what the bone needs; None if that can't be."""
    idle = [s.hole for s in judged.layout.screws if s.hole is not None and s.home is None]
    sides = [_spare(judged, fragment) for fragment in _mains(judged)]
    while len(idle) < surplus and any(sides):
        side = max(sides, key=len)
        idle.append(side.pop(0))
    return empty(judged, sorted(idle[:surplus])) if len(idle) >= surplus else None


@SPAN_RULES.rule(
    "screw-density",
    "caution",
    says="A bridging plate has at most half its holes filled, and its screws are not all crowded against the zone.",
    why="A bridging plate must bend a little over a long stretch. With most holes filled, or with a row of screws "
    "next to the zone, the bending is forced on a short piece of plate.",
    source="AO Surgery Reference, femoral shaft, bridge plating: no more than half of all holes filled",
    standing="handbook",
    on="humans",
)
def screw_density(judged: RuleInput) -> Iterator[Finding]:
    """Share of holes filled, and rows of screws next to the zone."""
    if judged.construct.principle != "bridging":
        return
    limit = judged.thresholds.value("screw-density", "bridging_max")
    filled = [n for n, hole in enumerate(judged.construct.holes, 1) if hole.role != "empty"]
    surplus = len(filled) - math.floor(limit * len(judged.construct.holes) + 1e-9)
    if surplus > 0:
        message = (
            f"{len(filled)} of {len(judged.construct.holes)} holes are filled ({judged.summary.screw_density:.2f}); "
            f"at most {limit:g} when bridging."
        )
        more = math.ceil(len(filled) / limit - 1e-9) - len(judged.construct.holes)
        way = first_sound(judged, (_thinned(judged, surplus), longer_plate(judged, more)))
        yield Finding(message, ("plate",), None, way)
    yield from _crowded(judged)


def _crowded(judged: RuleInput) -> Iterator[Finding]:
    most = int(judged.thresholds.value("screw-density", "next_to_zone_max"))
    for fragment in _mains(judged):
        row = _outwards(judged, fragment)
        first = [hole.number for hole in row[: most + 1]]
        full = len(first) == most + 1 and not any(_is_empty(judged, hole) for hole in row[: most + 1])
        if full and any(_is_empty(judged, hole) for hole in row):
            message = (
                f"The {most + 1} holes next to the fracture are all filled in the {fragment.name} fragment (assumed)."
            )
            keeps = len(plate_screws(judged, fragment.name)) > minimum(judged).screws
            way = empty(judged, first[1:2]) if keeps else None
            yield Finding(message, tuple(f"h{n}" for n in sorted(first)), "note", way)


@SPAN_RULES.rule(
    "spread",
    "note",
    says="The screws of a fragment are spread over the plate's holes there, its end hole included.",
    why="Screws far apart resist bending by a longer arm than the same screws side by side. The end hole is advised, "
    "not demanded: tests of end screws conflict.",
    source="36 plated femurs: screws broke only in fragments with three in a cluster, 3 of 40, and in none of 22 "
    "with three apart (PMC2898967, abstract read; small numbers). The share is assumed; end screw: Wheeless (for), "
    "Beaupre 1992 (against a unicortical one)",
    standing="published",
    on="humans",
)
def spread(judged: RuleInput) -> Iterator[Finding]:
    """Spread of a main fragment's screws, and its end hole."""
    summaries = judged.summary.fragments
    ends: list[int] = []
    for fragment, summary in zip(_mains(judged), (summaries[0], summaries[-1]), strict=True):
        row = _outwards(judged, fragment)
        screws = holding_screws(judged, fragment.name)
        if len(screws) >= 2 and len(row) >= 3:
            yield from _huddled(judged, fragment, row, summary)
        if screws and row and row[-1].number in (1, len(judged.layout.holes)) and _is_empty(judged, row[-1]):
            ends.append(row[-1].number)
    if ends:
        yield _end_holes(judged, ends)


def _end_holes(judged: RuleInput, ends: list[int]) -> Finding:
    """The plate's empty end holes, together."""
    verb = "is" if len(ends) == 1 else "are"
    return Finding(
        f"{'The end' if len(ends) == 1 else 'Both end'} {holes(ends)} {verb} empty.",
        tuple(f"h{end}" for end in ends),
        None,
        first_sound(judged, _to_the_ends(judged, ends)),
    )


def _to_the_ends(judged: RuleInput, ends: list[int]) -> Iterator[Remedy]:
    """Fill the end holes; where that were too many for a bridge, the outermost screws move there."""
    role = usual_role(judged)
    if not filled_up(judged, len(ends)):
        if all(holds_fragment(judged, end, role) for end in ends):
            yield fill(judged, ends, role)
        return
    moves = [(_outermost(judged, end), end) for end in ends]
    if all(holds_fragment(judged, end, judged.construct.holes[old - 1].role) for old, end in moves):
        yield _moved(judged, moves, "outermost")


def _outermost(judged: RuleInput, end: int) -> int:
    """The filled hole of the same fragment next to an empty end hole, lag screws left out."""
    fragment = judged.layout.fracture.fragments[0 if end == 1 else -1]
    return min(_placed(judged, fragment), key=lambda number: abs(number - end))


def _huddled(
    judged: RuleInput, fragment: Fragment, row: list[HolePlace], summary: FragmentSummary
) -> Iterator[Finding]:
    whole = abs(row[-1].s_mm - row[0].s_mm)
    limit = judged.thresholds.value("spread", "min_share")
    if summary.spread_mm >= limit * whole - 1e-6:
        return
    message = (
        f"The screws in the {fragment.name} fragment spread over {summary.spread_mm:.0f} mm of the {whole:.0f} mm of "
        f"holes there, less than {limit * 100:.0f} %."
    )
    yield Finding(message, (f"fragment-{fragment.name}",), None, _spreading(judged, fragment, row, limit * whole))


def _spreading(judged: RuleInput, fragment: Fragment, row: list[HolePlace], need_mm: float) -> Remedy | None:
    """Fill the outermost or the innermost hole, whichever stretches the screws far enough."""
    if filled_up(judged):
        return None
    role = usual_role(judged)
    placed = [s.s_mm for s in holding_screws(judged, fragment.name)]
    for hole in (row[-1], row[0]):
        reach = max(abs(hole.s_mm - s) for s in placed)
        if _is_empty(judged, hole) and reach >= need_mm and holds_fragment(judged, hole.number, role):
            return fill(judged, [hole.number], role)
    return None


@SPAN_RULES.rule(
    "plate-span",
    "caution",
    says="The plate is long enough: against the fracture, over each main fragment, and it stays on the shaft.",
    why="A long plate loads its screws less. With too few holes over a fragment there is no room to fix it.",
    source="plate span ratios from memory (Gautier and Sommer 2003); each bone's holes with its own source",
    standing="from memory",
    on="none",
)
def plate_span(judged: RuleInput) -> Iterator[Finding]:
    """Plate against fracture, fragments and shaft."""
    yield from _short_for_fracture(judged)
    yield from _few_holes(judged)
    start, end = judged.layout.plate_ends_mm
    if not on_shaft(judged, start, end):
        low, high = (share * judged.layout.shape.length_mm for share in judged.layout.bone.shaft)
        message = f"The plate runs from {start:.0f} to {end:.0f} mm, off the shaft ({low:.0f} to {high:.0f} mm)."
        yield Finding(message, ("plate", "bone"), "note")


def _few_holes(judged: RuleInput) -> Iterator[Finding]:
    """Main fragments under too few holes, together: one longer plate mends both."""
    least = minimum(judged)
    over = {fragment: len(_over(judged, fragment.index)) for fragment in _mains(judged)}
    few = {fragment: count for fragment, count in over.items() if count < least.holes}
    if not few:
        return
    counts = listed(f"{count} over the {fragment.name} fragment" for fragment, count in few.items())
    message = (
        f"Holes of the plate: {counts}; the {judged.layout.bone.label.lower()} needs {least.holes} over "
        f"each main one for {judged.construct.principle}."
    )
    longer = plate_over(judged, {fragment.index: least.holes for fragment in few})
    way = first_sound(judged, (longer, with_every_hole_filled(judged, longer)))
    level = firm(least.figure.standing, "caution")
    source = f"{least.figure.source} ({least.figure.standing})"
    yield Finding(message, tuple(f"fragment-{fragment.name}" for fragment in few), level, way, source)


def _short_for_fracture(judged: RuleInput) -> Iterator[Finding]:
    ratio = judged.summary.plate_span_ratio
    if ratio is None or judged.construct.principle != "bridging":
        return
    simple = is_simple(judged)
    limit = judged.thresholds.value("plate-span", "simple_min" if simple else "multifragmentary_min")
    if ratio >= limit:
        return
    kind = "simple" if simple else "wedge or multifragmentary"
    message = (
        f"The plate is {judged.layout.plate_length_mm:.0f} mm long, {ratio:.1f} times the fracture; "
        f"{limit:g} times is remembered for a {kind} fracture that is bridged."
    )
    lacking = limit * judged.layout.fracture.length_mm - judged.layout.plate_length_mm
    more = math.ceil(lacking / judged.layout.series.pitch_mm - 1e-9)
    way = longer_plate(judged, more)
    yield Finding(message, ("plate",), "note", way)


@SPAN_RULES.rule(
    "bridging-span",
    "note",
    says="Bridging a simple fracture leaves some holes free over it; compressing one sets the innermost screws near "
    "it; and in neither is the bridging span (working length) far too long.",
    why="Free holes lengthen the stretch of plate that bends, which lowers its stress and the strain in a narrow "
    "gap; bench tests conflict once the far cortex touches. When compressing, near screws hold the faces where they "
    "were set. Far too long a span leaves the fracture to swing.",
    source="computer model of a locked plate (PMC3768240, abstract read): 2 to 4 holes free at a gap of 1 mm; no "
    "link of working length with union in 96 femurs (Harvin), other tests conflict. AO Surgery Reference, plates on "
    "oblique fractures: first screw as near the fracture as possible, no figure given",
    standing="published",
    on="bench",
)
def bridging_span(judged: RuleInput) -> Iterator[Finding]:
    """Free holes over a bridged simple fracture; span of the innermost screws; spans far too long."""
    flanks = _flanks(judged) if len(judged.layout.fracture.lines) == 1 else None
    if flanks is None:
        return
    if judged.construct.principle == "compression":
        yield from _far_apart(judged, *flanks)
    elif judged.construct.principle == "bridging":
        if is_simple(judged):
            yield from _no_free_holes(judged, *flanks)
        yield from _long_bridge(judged, *flanks)


def _flanks(judged: RuleInput) -> tuple[int, int] | None:
    """Numbers of the innermost filled holes of the two fragments of a single line, lag screws left out."""
    proximal, distal = (_placed(judged, fragment) for fragment in _mains(judged))
    return (proximal[-1], distal[0]) if proximal and distal else None


def _no_free_holes(judged: RuleInput, before: int, behind: int) -> Iterator[Finding]:
    least = int(judged.thresholds.value("bridging-span", "simple_free_holes_min"))
    free = sum(_is_empty(judged, hole) for hole in judged.layout.holes[before : behind - 1])
    if free >= least:
        return
    message = (
        f"{free} hole{'' if free == 1 else 's'} left free over a simple fracture that is bridged; {least} to 4 are "
        "advised."
    )
    locked = all(judged.construct.holes[number - 1].role in LOCKING for number in (before, behind))
    level: Level | None = "caution" if free == 0 and locked else None
    way = first_sound(judged, chain([_freeing(judged, least - free)], _drawn_out(judged, least)))
    yield Finding(message, ("plate", "line-0"), level, way)


def _long_bridge(judged: RuleInput, before: int, behind: int) -> Iterator[Finding]:
    """A stretch of unheld plate far longer than the fracture asks for."""
    most = judged.thresholds.value("bridging-span", "free_holes_max") * judged.layout.series.pitch_mm
    places = judged.layout.holes
    span, fracture = places[behind - 1].s_mm - places[before - 1].s_mm, judged.layout.fracture.length_mm
    if span - fracture <= most + 1e-6:
        return
    message = (
        f"The bridging span (working length) is {span:.0f} mm over a fracture of {fracture:.0f} mm: "
        f"{span - fracture:.0f} mm more, where {most:.0f} mm is already long (assumed limit)."
    )
    yield Finding(
        message, (f"h{before}", f"h{behind}"), "caution", _filled_inside(judged, before, behind, most + fracture)
    )


def _filled_inside(judged: RuleInput, before: int, behind: int, limit_mm: float) -> Remedy | None:
    """Move the innermost screws in, the farther one first, until the span is no longer far too long."""
    proximal, distal = _mains(judged)
    role = judged.construct.holes[before - 1].role
    inner = [
        [
            h.number
            for h in _outwards(judged, fragment)
            if _is_empty(judged, h) and holds_fragment(judged, h.number, role)
        ]
        for fragment in (proximal, distal)
    ]
    left = [number for number in inner[0] if number > before]
    right = [number for number in inner[1] if number < behind]
    places = judged.layout.holes
    pairs = [
        (a, b) for a in (*left, before) for b in (*right, behind) if places[b - 1].s_mm - places[a - 1].s_mm <= limit_mm
    ]
    if not pairs:
        return None
    # as little as will do: the longest span within the limit
    a, b = max(pairs, key=lambda pair: places[pair[1] - 1].s_mm - places[pair[0] - 1].s_mm)
    return _moved(judged, [(before, a), (behind, b)])


def _freeing(judged: RuleInput, count: int) -> Remedy | None:
    """Empty the innermost holes, always on the side with more screws, while enough stay in each fragment."""
    proximal, distal = (_placed(judged, fragment) for fragment in _mains(judged))
    gone: list[int] = []
    for _ in range(count):
        side, inner = (proximal, -1) if len(proximal) >= len(distal) else (distal, 0)
        if len(side) <= minimum(judged).screws:
            return None
        gone.append(side.pop(inner))
    return empty(judged, sorted(gone))


def _drawn_out(judged: RuleInput, least: int) -> Iterator[Remedy]:
    """Move the innermost screws outwards until so many holes are free, as little as will do and as evenly."""
    one, other = (
        sorted({*(hole.number for hole in _over(judged, fragment.index)), *_placed(judged, fragment)})
        for fragment in _mains(judged)
    )
    one.reverse()
    roles = {number: hole.role for number, hole in enumerate(judged.construct.holes, 1)}
    free = {n for n, role in roles.items() if role == "empty" or (role != "lag" and n in {*one, *other})}
    bounds = [(a, b) for a, b in product(one, other) if len(free.intersection(range(a + 1, b))) >= least]
    moved = [(_past(judged, one, a), _past(judged, other, b)) for a, b in bounds]
    found = [near + far for near, far in moved if near is not None and far is not None and near + far]
    for moves in sorted(found, key=_steps):
        yield _moved(judged, moves)


def _steps(moves: list[tuple[int, int]]) -> tuple[int, int]:
    """By how many holes screws move in all, and the farthest of them."""
    steps = [abs(old - new) for old, new in moves]
    return sum(steps), max(steps)


def _past(judged: RuleInput, row: list[int], bound: int) -> list[tuple[int, int]] | None:
    """Where the screws nearer the fracture than a hole go, of a row of holes outwards from it; None without room."""
    at = row.index(bound)
    inside = [n for n in row[:at] if judged.construct.holes[n - 1].role not in ("empty", "lag")]
    free = [n for n in row[at:] if judged.construct.holes[n - 1].role == "empty"]
    fit = [n for n in free if all(holds_fragment(judged, n, judged.construct.holes[m - 1].role) for m in inside)]
    return list(zip(inside[::-1], fit, strict=False)) if len(fit) >= len(inside) else None


def _placed(judged: RuleInput, fragment: Fragment) -> list[int]:
    """Numbers of a fragment's filled holes, lag screws left out."""
    return [s.hole for s in holding_screws(judged, fragment.name) if s.hole is not None]


def _far_apart(judged: RuleInput, before: int, behind: int) -> Iterator[Finding]:
    pitches = judged.thresholds.value("bridging-span", "compression_max_pitches")
    limit = pitches * judged.layout.series.pitch_mm
    places = judged.layout.holes
    span = places[behind - 1].s_mm - places[before - 1].s_mm
    proximal, distal = _mains(judged)
    nearest = [_nearest_free(judged, proximal, before), _nearest_free(judged, distal, behind)]
    if span <= limit + 1e-6 or nearest == [before, behind]:
        return
    message = (
        f"The innermost screws stand {span:.0f} mm apart, more than {pitches:g} hole spacings ({limit:.0f} mm), though "
        "nearer holes are free (assumed limit)."
    )
    after = places[nearest[1] - 1].s_mm - places[nearest[0] - 1].s_mm
    far = judged.thresholds.value("bridging-span", "compression_far_pitches") * judged.layout.series.pitch_mm
    level: Level | None = "caution" if span > far + 1e-6 else None
    way = _moved(judged, [(before, nearest[0]), (behind, nearest[1])]) if after <= limit + 1e-6 else None
    yield Finding(message, (f"h{before}", f"h{behind}"), level, way)


def _nearest_free(judged: RuleInput, fragment: Fragment, used: int) -> int:
    """The hole nearest the fracture that a screw of this fragment could stand in."""
    for hole in _outwards(judged, fragment):
        if hole.number == used:
            return used
        if _is_empty(judged, hole) and holds_fragment(judged, hole.number, "neutral"):
            return hole.number
    return used


def _moved(judged: RuleInput, moves: list[tuple[int, int]], which: str = "innermost") -> Remedy:
    moves = [(old, new) for old, new in moves if old != new]
    given = {new: judged.construct.holes[old - 1].role for old, new in moves}
    edits = [role_edit(judged, old, "empty") for old, _ in moves if old not in given]
    edits += [role_edit(judged, new, role, 0.0) for new, role in given.items()]
    return remedy(f"Move the {which} screw{'s' if len(moves) > 1 else ''} to {holes(sorted(given))}", edits)
