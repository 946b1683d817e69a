"""Hold in the main fragments: how many screws and cortices, and which holes stay empty in poor bone."""

import math
from collections.abc import Iterator
from dataclasses import replace

from app.geometry import Fragment, ScrewPath
from app.rules.after import first_sound
from app.rules.edits import fill, holes, listed, remedy, role_edit
from app.rules.facts import (
    CLAMPING,
    LOCKING,
    filled_up,
    firm,
    holding_screws,
    minimum,
    plate_screws,
    pulled,
    usual_role,
)
from app.rules.filling import best_empty_holes, longer_filled, picked
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput
from app.rules.trial import holds_fragment

HOLD_RULES = Registry()


def missed(judged: RuleInput, screw: ScrewPath) -> bool:
    """Whether a screw's main fragment has fewer screws or cortices than it needs once this one is gone.

    An intermediate fragment needs two screws, or one that locks, if it is to be held at all.
    """
    fragments, least = judged.layout.fracture.fragments, minimum(judged)
    if screw.home not in {fragment.name for fragment in fragments}:
        return False
    left = [other for other in plate_screws(judged, screw.home) if other.id != screw.id]
    if screw.home not in (fragments[0].name, fragments[-1].name):
        return len(left) == 1 and left[0].role not in LOCKING
    cortices = sum(passage.holds and passage.owner == screw.home for other in left for passage in other.passages)
    return len(left) < least.screws or cortices < least.cortices


def _both_cortices(judged: RuleInput, fragment: Fragment, cortices: int) -> Remedy | None:
    """Make unicortical screws bicortical, where that alone gives the cortices missing."""
    single = [s for s in plate_screws(judged, fragment.name) if s.role == "locking-1" and s.hole is not None]
    numbers = [s.hole for s in single if s.hole is not None and holds_fragment(judged, s.hole, "locking-2")]
    if len(numbers) < cortices or judged.layout.series.locking_screw is None:
        return None
    return remedy(f"Bicortical locking in {holes(numbers)}", [role_edit(judged, n, "locking-2") for n in numbers])


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
    """Screws and cortices of each main fragment against the bone's minimum; in poor bone, one more."""
    fragments = judged.layout.fracture.fragments
    mains = [fragments[0], fragments[-1]]
    short = [fragment for fragment in mains if max(_lacking(judged, fragment)) > 0]
    for fragment in short:
        yield _short_finding(judged, fragment)
    yield from _safer(judged, [fragment for fragment in mains if fragment not in short])


def _lacking(judged: RuleInput, fragment: Fragment) -> tuple[int, int]:
    """Screws and cortices that a main fragment lacks; below nought what it has beyond its need."""
    held, least = judged.summary.fragments[fragment.index], minimum(judged)
    return max(least.screws, _stop_below(judged)) - held.screws, least.cortices - held.cortices


def _stop_below(judged: RuleInput) -> int:
    return math.ceil(judged.thresholds.value("screws-per-fragment", "stop_below_screws"))


def _wanted(judged: RuleInput, fragment: Fragment) -> int:
    """So many bicortical screws give what a main fragment lacks."""
    screws, cortices = _lacking(judged, fragment)
    return max(screws, math.ceil(cortices / 2), 0)


def _extra(judged: RuleInput) -> int:
    """Screws more that poor bone wants; a bridge is left its free holes."""
    if judged.case.bone_quality != "poor" or judged.construct.principle == "bridging":
        return 0
    return int(judged.thresholds.value("screws-per-fragment", "poor_extra_screws"))


def _short_finding(judged: RuleInput, fragment: Fragment) -> Finding:
    least, held = minimum(judged), judged.summary.fragments[fragment.index]
    have = (
        f"{held.screws} plate screw{'' if held.screws == 1 else 's'} and {held.cortices} cortices hold the "
        f"{fragment.name} fragment"
    )
    if held.independent_lags:
        have += f", {held.independent_lags} independent lag screw{'' if held.independent_lags == 1 else 's'} apart"
    few = held.screws < _stop_below(judged)
    level: Level = "stop" if few else firm(least.figure.standing, "caution")
    way = first_sound(judged, _more_hold(judged, fragment, level))
    if way is None and few:
        # whatever else it brings, a fragment that one screw holds is worse
        way = next(_filled(judged, fragment), None)
    source = None if few else f"{least.figure.source} ({least.figure.standing})"
    return Finding(f"{have}; {_needed(judged)}.", (f"fragment-{fragment.name}",), level, way, source)


def _more_hold(judged: RuleInput, fragment: Fragment, level: Level) -> Iterator[Remedy]:
    """Ways to the hold that is lacking, the smallest first; a fuller bridge than advised would be no gain."""
    screws, cortices = _lacking(judged, fragment)
    if screws <= 0 and (swap := _both_cortices(judged, fragment, cortices)):
        yield swap
    ends = judged.layout.fracture.fragments[0], judged.layout.fracture.fragments[-1]
    wanted = {end.index: count for end in ends if (count := _wanted(judged, end))}
    if not filled_up(judged, sum(wanted.values())):
        yield from _filled(judged, fragment)
    if level != "note" and (longer := longer_filled(judged, wanted, usual_role(judged))):
        yield longer


def _filled(judged: RuleInput, fragment: Fragment) -> Iterator[Remedy]:
    """Fill holes over the fragment: in poor bone with what is safer, as the bare minimum only brings the next note."""
    role, least = usual_role(judged), _wanted(judged, fragment)
    for count in dict.fromkeys((least + _extra(judged), least)):
        if numbers := best_empty_holes(judged, fragment.index, count, role):
            yield fill(judged, numbers, role)


def _safer(judged: RuleInput, fragments: list[Fragment]) -> Iterator[Finding]:
    """One note on fragments that have just enough for sound bone, where more can be had."""
    least, extra, role = minimum(judged), _extra(judged), usual_role(judged)
    screws = {fragment.name: plate_screws(judged, fragment.name) for fragment in fragments}
    bare = [f for f in fragments if not any(screw.role in LOCKING for screw in screws[f.name])]
    wanted = {f: more for f in bare if (more := least.screws + extra - len(screws[f.name])) > 0}
    if not wanted or extra <= 0 or (judged.trial and judged.rules is None):  # what a remedy brings: notes don't count
        return
    holding = listed(f"{len(screws[f.name])} plate screws hold the {f.name} fragment" for f in wanted)
    counts = {f.index: more for f, more in wanted.items()}
    # whether it is said hangs on what can be had, and so must not on whether remedies are looked for
    looked = replace(judged, trial=False)
    numbers = picked(looked, counts, role)
    ways = (fill(looked, numbers, role) if numbers else None, longer_filled(looked, counts, role))
    if way := first_sound(looked, ways):
        message = (
            f"{holding}: in osteoporotic (poor) bone {extra} more than the usual {least.screws} is safer where none "
            "locks (assumed)."
        )
        yield Finding(message, tuple(f"fragment-{f.name}" for f in wanted), "note", None if judged.trial else way)


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
        if (screws := holding_screws(judged, fragment.name)) and not any(screw.role in LOCKING for screw in screws)
    ]
    if bare:
        names, plural = listed(fragment.name for fragment in bare), "s" if len(bare) > 1 else ""
        message = (
            f"Osteoporotic (poor) bone, and cortex screws alone hold the {names} fragment{plural}, in a plate that can "
            "lock."
        )
        yield Finding(message, tuple(f"fragment-{f.name}" for f in bare), None, _lock(judged, bare))


def _lock(judged: RuleInput, fragments: list[Fragment]) -> Remedy | None:
    """Locking screws in place of the cortex screws that neither pull nor hold against the pull; else one more."""
    numbers: list[int] = []
    for fragment in fragments:
        turned = [
            screw.hole
            for screw in holding_screws(judged, fragment.name)
            if screw.role == "neutral" and screw.hole is not None and holds_fragment(judged, screw.hole, "locking-2")
        ]
        if _pulls(judged) and turned:
            next_to_fracture = max(turned) if fragment.index == 0 else min(turned)
            turned.remove(next_to_fracture)  # it holds still against the pull
        locked = turned or best_empty_holes(judged, fragment.index, 1, "locking-2")
        if not locked:
            return None
        numbers += locked
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
