"""Hold in the main fragments: how many screws and cortices, and which holes stay empty in poor bone."""

import math
from collections.abc import Iterator

from app.case.models import Role
from app.geometry import Fragment, ScrewPath
from app.rules.edits import fill, holes, listed, remedy, role_edit
from app.rules.facts import CLAMPING, LOCKING, filled_up, firm, minimum, plate_screws, pulled, usual_role
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
    """Make unicortical screws bicortical, where that alone gives the cortices missing."""
    single = [s for s in plate_screws(judged, fragment.name) if s.role == "locking-1" and s.hole is not None]
    numbers = [s.hole for s in single if s.hole is not None and holds_fragment(judged, s.hole, "locking-2")]
    if len(numbers) < cortices or judged.layout.series.locking_screw is None:
        return None
    return remedy(f"Bicortical locking in {holes(numbers)}", [role_edit(judged, n, "locking-2") for n in numbers])


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
    "before it heals. Independent lag screws do not tie a fragment to the plate and are not counted.",
    source="Wheeless' Textbook of Orthopaedics, dynamic compression plates: at least 2 screws, 4 cortices to each "
    "side; each bone's figure with its own source",
    standing="handbook",
    on="humans",
)
def screws_per_fragment(judged: RuleInput) -> Iterator[Finding]:
    """Screws and cortices of each main fragment against the bone's minimum."""
    fragments = judged.layout.fracture.fragments
    for fragment in (fragments[0], fragments[-1]):
        held = judged.summary.fragments[fragment.index]
        yield from _hold_finding(judged, fragment, held.screws, held.cortices)


def _hold_finding(judged: RuleInput, fragment: Fragment, screws: int, cortices: int) -> Iterator[Finding]:
    least = minimum(judged)
    poor = judged.case.bone_quality == "poor"
    extra = int(judged.thresholds.value("screws-per-fragment", "poor_extra_screws")) if poor else 0
    subject = (f"fragment-{fragment.name}",)
    have = f"{screws} plate screw{'' if screws == 1 else 's'} and {cortices} cortices hold the {fragment.name} fragment"
    beside = judged.summary.fragments[fragment.index].independent_lags
    if beside:
        have += f", {beside} independent lag screw{'' if beside == 1 else 's'} apart"
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
    elif screws < least.screws + extra and not any(s.role in LOCKING for s in plate_screws(judged, fragment.name)):
        message = (
            f"{have}: in osteoporotic (poor) bone {extra} more than the usual {least.screws} is safer where none locks "
            "(assumed)."
        )
        yield Finding(message, subject, "note", None if filled_up(judged) else safer)


def _needed(judged: RuleInput) -> str:
    least = minimum(judged)
    bone, principle = judged.layout.bone.label.lower(), judged.construct.principle
    return f"the {bone} needs {least.screws} and {least.cortices} for {principle}"


@HOLD_RULES.rule(
    "fill-in-poor-bone",
    "caution",
    says="In osteoporotic (poor) bone a plate that can lock holds each main fragment with locking screws; one that "
    "can't has a screw in every hole other than those over the fracture.",
    why="A cortex screw in osteoporotic bone holds little, and a conventional plate lives by the friction it makes: "
    "locking heads don't need it. Where nothing locks, more screws have to share the load.",
    source="AO Surgery Reference, humerus, ulna, femur: a locking plate in osteoporotic bone; a screw in every hole of "
    "a conventional plate: common practice, no source",
    standing="handbook",
    on="humans",
)
def fill_in_poor_bone(judged: RuleInput) -> Iterator[Finding]:
    """Fragments held by cortex screws only; empty holes of a plate that can't lock."""
    if judged.case.bone_quality != "poor":
        return
    if judged.layout.series.locking_screw is not None:
        yield from _unlocked(judged)
    elif judged.construct.principle != "bridging" and any(hole.role in CLAMPING for hole in judged.construct.holes):
        yield from _unfilled(judged)


def _unlocked(judged: RuleInput) -> Iterator[Finding]:
    fragments = judged.layout.fracture.fragments
    bare = [
        fragment
        for fragment in (fragments[0], fragments[-1])
        if (screws := _holding(judged, fragment)) and not any(screw.role in LOCKING for screw in screws)
    ]
    if bare:
        names, plural = listed(fragment.name for fragment in bare), "s" if len(bare) > 1 else ""
        message = (
            f"Osteoporotic (poor) bone, and cortex screws alone hold the {names} fragment{plural}, in a plate that can "
            "lock."
        )
        yield Finding(message, tuple(f"fragment-{f.name}" for f in bare), None, _lock(judged, bare))


def _holding(judged: RuleInput, fragment: Fragment) -> list[ScrewPath]:
    return [screw for screw in plate_screws(judged, fragment.name) if screw.role != "lag"]


def _lock(judged: RuleInput, fragments: list[Fragment]) -> Remedy | None:
    """Locking screws in place of the cortex screws that neither pull nor hold against the pull; else one more."""
    numbers: list[int] = []
    for fragment in fragments:
        turned = [
            screw.hole
            for screw in _holding(judged, fragment)
            if screw.role == "neutral" and screw.hole is not None and holds_fragment(judged, screw.hole, "locking-2")
        ]
        if _pulls(judged) and turned:
            turned.remove(
                max(turned) if fragment.index == 0 else min(turned)
            )  # the one next to the fracture holds still
        numbers += turned or best_empty_holes(judged, fragment.index, 1, "locking-2")
        if not turned and not best_empty_holes(judged, fragment.index, 1, "locking-2"):
            return None
    edits = [role_edit(judged, number, "locking-2", 0.0) for number in sorted(numbers)]
    return remedy(f"Lock {holes(sorted(numbers))}", edits)


def _pulls(judged: RuleInput) -> bool:
    """Whether an eccentric screw pulls at all."""
    return any(pulled(judged, line) for line in judged.layout.fracture.lines)


def _unfilled(judged: RuleInput) -> Iterator[Finding]:
    spare = [
        hole.number
        for hole in judged.layout.holes
        if hole.fragment is not None
        and judged.construct.holes[hole.number - 1].role == "empty"
        and holds_fragment(judged, hole.number, "neutral")
    ]
    if spare:
        message = (
            f"Osteoporotic (poor) bone under a plate that can't lock, and {holes(spare)} "
            f"{'is' if len(spare) == 1 else 'are'} empty."
        )
        yield Finding(message, tuple(f"h{n}" for n in spare), None, fill(judged, spare, "neutral"))
