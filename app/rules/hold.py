"""Hold in the main fragments: how many screws and cortices, and which holes stay empty in poor bone."""

import math
from collections.abc import Iterator

from app.case.models import Role
from app.geometry import Fragment, ScrewPath
from app.rules.edits import fill, holes, remedy, role_edit
from app.rules.facts import CLAMPING, LOCKING, filled_up, firm, minimum, plate_screws, usual_role
from app.rules.registry import Finding, Registry, Remedy, RuleInput
from app.rules.trial import holds_fragment

HOLD_RULES = Registry()


def best_empty_holes(judged: RuleInput, fragment: int, count: int, role: Role) -> list[int]:
    """Empty holes over a fragment to fill: each the farthest from the screws there, the outermost first; or none."""
    places = {hole.number: hole.s_mm for hole in judged.layout.holes if hole.fragment == fragment}
    used = [s for number, s in places.items() if judged.construct.holes[number - 1].role != "empty"]
    free = [n for n in places if judged.construct.holes[n - 1].role == "empty" and holds_fragment(judged, n, role)]
    if len(free) < count:
        return []
    middle = judged.construct.plate.centre_mm
    chosen: list[int] = []
    for _ in range(count):
        best = max(free, key=lambda n: (_room(places[n], used), abs(places[n] - middle)))
        free.remove(best)
        used.append(places[best])
        chosen.append(best)
    return sorted(chosen)


def missed(judged: RuleInput, screw: ScrewPath) -> bool:
    """Whether a screw's main fragment has fewer screws or cortices than it needs once this one is gone."""
    fragments, least = judged.layout.fracture.fragments, minimum(judged)
    if screw.home not in (fragments[0].name, fragments[-1].name):
        return False
    left = [other for other in plate_screws(judged, screw.home) if other.id != screw.id]
    cortices = sum(passage.holds and passage.owner == screw.home for other in left for passage in other.passages)
    return len(left) < least.screws or cortices < least.cortices


def _room(s_mm: float, used: list[float]) -> float:
    return round(min((abs(s_mm - other) for other in used), default=math.inf), 6)


def _both_cortices(judged: RuleInput, fragment: Fragment, cortices: int) -> Remedy | None:
    """Run one-cortex screws through both, where that alone gives the cortices missing."""
    single = [s for s in plate_screws(judged, fragment.name) if s.role == "locking-1" and s.hole is not None]
    numbers = [s.hole for s in single if s.hole is not None and holds_fragment(judged, s.hole, "locking-2")]
    if len(numbers) < cortices or judged.layout.series.locking_screw is None:
        return None
    return remedy(f"Run {holes(numbers)} through both cortices", [role_edit(judged, n, "locking-2") for n in numbers])


def _more_hold(judged: RuleInput, fragment: Fragment, screws: int, cortices: int) -> Remedy | None:
    """The best way to this many more screws and cortices."""
    if screws <= 0 and (swap := _both_cortices(judged, fragment, cortices)):
        return swap
    role = usual_role(judged)
    numbers = best_empty_holes(judged, fragment.index, max(screws, math.ceil(cortices / 2)), role)
    return fill(judged, numbers, role) if numbers else None


@HOLD_RULES.rule(
    "screws-per-fragment",
    "caution",
    says="Each main fragment is held by enough plate screws and cortices for this bone and principle.",
    why="With one screw a fragment turns about it; with fewer cortices than the bone needs, screws loosen more often "
    "before it heals. Screws beside the plate do not tie a fragment to it and are not counted.",
    source="Wheeless' Textbook of Orthopaedics, dynamic compression plates: at least 2 screws, 4 cortices to each "
    "side; each bone's figure with its own source",
    standing="handbook",
    on="humans",
)
def screws_per_fragment(judged: RuleInput) -> Iterator[Finding]:
    """Screws and cortices of each main fragment against the bone's minimum."""
    fragments = judged.layout.fracture.fragments
    for fragment in (fragments[0], fragments[-1]):
        screws = plate_screws(judged, fragment.name)
        cortices = sum(p.holds and p.owner == fragment.name for screw in screws for p in screw.passages)
        yield from _hold_finding(judged, fragment, len(screws), cortices)


def _hold_finding(judged: RuleInput, fragment: Fragment, screws: int, cortices: int) -> Iterator[Finding]:
    least = minimum(judged)
    poor = judged.case.bone_quality == "poor"
    extra = int(judged.thresholds.value("screws-per-fragment", "poor_extra_screws")) if poor else 0
    subject = (f"fragment-{fragment.name}",)
    have = f"{screws} plate screw{'' if screws == 1 else 's'} and {cortices} cortices hold the {fragment.name} fragment"
    stop_below = math.ceil(judged.thresholds.value("screws-per-fragment", "stop_below_screws"))
    short = max(least.screws, stop_below) - screws, least.cortices - cortices
    safer = _more_hold(judged, fragment, short[0] + extra, short[1] + 2 * extra) if max(short) + extra > 0 else None
    if max(short) > 0:
        few = screws < stop_below
        level = "stop" if few else firm(least.figure.standing, "caution")
        # in poor bone the bare minimum would only bring the next note
        way = safer or (_more_hold(judged, fragment, *short) if level != "note" else None)
        if level == "note" and filled_up(judged):
            way = None  # a fuller bridge than advised would be worse than this note
        source = None if few else f"{least.figure.source} ({least.figure.standing})"
        yield Finding(f"{have}; {_needed(judged)}.", subject, level, way, source)
    elif screws < least.screws + extra:
        message = f"{have}: in poor bone {extra} more than the usual {least.screws} is safer (assumed)."
        yield Finding(message, subject, "note", None if filled_up(judged) else safer)


def _needed(judged: RuleInput) -> str:
    least = minimum(judged)
    bone, principle = judged.layout.bone.label.lower(), judged.construct.principle
    return f"the {bone} needs {least.screws} and {least.cortices} for {principle}"


@HOLD_RULES.rule(
    "fill-in-poor-bone",
    "caution",
    says="In poor bone a conventional plate has a screw in every hole other than those over the fracture.",
    why="Each conventional screw in poor bone holds less, and hold comes from friction under the plate: more screws "
    "share it. Locking screws are the other way.",
    source="common practice, no source",
    standing="common practice",
    on="none",
)
def fill_in_poor_bone(judged: RuleInput) -> Iterator[Finding]:
    """Empty holes under a plate that is held by cortex screws only."""
    roles = {hole.role for hole in judged.construct.holes}
    if judged.case.bone_quality != "poor" or judged.construct.principle == "bridging" or roles & LOCKING:
        return
    if not roles & CLAMPING:
        return
    spare = [
        hole.number
        for hole in judged.layout.holes
        if hole.fragment is not None
        and judged.construct.holes[hole.number - 1].role == "empty"
        and holds_fragment(judged, hole.number, "neutral")
    ]
    if spare:
        message = (
            f"Poor bone under a conventional plate, and {holes(spare)} {'is' if len(spare) == 1 else 'are'} empty."
        )
        yield Finding(message, tuple(f"h{n}" for n in spare), None, fill(judged, spare, "neutral"))
