"""What the frame model adds: motion, stress and screw load against what tissue, metal and bone bear.

All figures are model estimates for comparing layouts, so these are notes; a caution only where strain passes what any
tissue is thought to bear, a stop only where nothing is held at all.
"""

from collections.abc import Iterable

from app.case.edits import Edit, SetPrebend, Together
from app.mechanics import LineAnswer, MechanicsResult
from app.mechanics.document import ESTIMATE
from app.mechanics.of_layout import mechanics_of
from app.rules.after import after
from app.rules.edits import listed, role_edit
from app.rules.facts import minimum
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput

MECHANICAL_RULES = Registry()
ROUNDING = 0.05  # shares of friction are told to a tenth; what rounds to 1 just holds


def _result(judged: RuleInput) -> MechanicsResult | None:
    """The answers, where the construct holds together."""
    return judged.mechanics if judged.mechanics is not None and judged.mechanics.unstable is None else None


@MECHANICAL_RULES.rule(
    "unstable",
    "stop",
    says="The construct holds nothing: a fragment is free to move.",
    why="A fragment without screws, or with a single screw that only clamps it, can turn or slide under any load.",
    source="statics: fewer restraints than the plane motions of a fragment",
    standing="common practice",
    on="calculation",
)
def unstable(judged: RuleInput) -> Iterable[Finding]:
    """A fragment that nothing holds; bridged, an intermediate one may be left so."""
    if judged.mechanics is None or judged.mechanics.unstable is None:
        return
    left = _left_alone(judged)
    if left:
        names = listed(left)
        message = (
            f"No screw holds the {names} fragment{'s' if len(left) > 1 else ''}: bridged, it may be left to heal as it "
            "lies, but how it moves can't be estimated."
        )
        yield Finding(message, tuple(f"fragment-{name}" for name in left), "note")
    else:
        yield Finding(f"{judged.mechanics.unstable[0].upper()}{judged.mechanics.unstable[1:]}.", ("plate",))


def _left_alone(judged: RuleInput) -> list[str]:
    """Intermediate fragments without a screw under a bridge that holds both main ones; empty where that is not all."""
    if judged.construct.principle != "bridging":
        return []
    fragments, summaries = judged.layout.fracture.fragments, judged.summary.fragments
    least = judged.thresholds.value("screws-per-fragment", "stop_below_screws")
    if min(summaries[0].screws, summaries[-1].screws) < least:
        return []
    held = {owner for screw in judged.layout.screws for owner in screw.owners}
    return [fragment.name for fragment in fragments[1:-1] if fragment.name not in held]


def _strains(line: LineAnswer) -> list[tuple[str, float]]:
    """Strain of each cortex that stays open; one that closes under the load bears on bone, not on tissue."""
    sides = (
        ("near", line.strain.near_percent, line.interface.near_closed),
        ("far", line.strain.far_percent, line.interface.far_closed),
    )
    return [(side, abs(value)) for side, value, shut in sides if value is not None and not shut]


@MECHANICAL_RULES.rule(
    "strain-too-high",
    "note",
    says="Motion at the fracture is more than the tissue in the gap is thought to bear.",
    why="Tissue is thought to fail, and a gap to stay soft, when motion ÷ gap passes what it bears: bone about 2 %, "
    "fibrocartilage about 10 %, granulation about 100 %. Sheep have healed past these, so the bands are a guide.",
    source="Perren's strain theory (teaching page); against it Tanveer 2025, Bone Joint Res 14:5-15",
    standing="handbook",
    on="calculation",
)
def strain_too_high(judged: RuleInput) -> Iterable[Finding]:
    """Strain above the band of the principle: fibrocartilage for bridging, bone for absolute stability; all lines."""
    result = _result(judged)
    if result is None:
        return
    bridging = judged.construct.principle == "bridging"
    name = "fibrocartilage_max_percent" if bridging else "bone_max_percent"
    limit = judged.thresholds.value("strain-too-high", name)
    ruinous = judged.thresholds.value("strain-too-high", "granulation_max_percent")
    worst = {
        index: max(strains, key=lambda pair: pair[1])
        for index, line in enumerate(result.lines)
        if (strains := _strains(line))
    }
    high = {index: pair for index, pair in worst.items() if pair[1] > limit}
    if not high:
        return
    several = len(result.lines) > 1
    told = listed(
        f"about {value:.0f} % at the {side} cortex{f' of line {index + 1}' if several else ''}"
        for index, (side, value) in high.items()
    )
    level: Level | None = "caution" if max(value for _, value in high.values()) > ruinous else None
    message = (
        f"Strain is {told}, above {limit:.0f} % for {'callus' if bridging else 'healing without callus'} "
        f"({_stage(result)})."
    )
    yield Finding(message, tuple(f"line-{index}" for index in high), level)


@MECHANICAL_RULES.rule(
    "strain-too-low",
    "note",
    says="A bridging construct so stiff that the far cortex hardly moves.",
    why="Callus is thought to need some motion; with too little, a bridged fracture may heal slowly while the plate "
    "carries on alone.",
    source="deficient callus in 37 % at 24 weeks under stiff locked plates (Lujan 2010, J Orthop Trauma 24:156); the "
    "lower target of 0.2 mm from memory",
    standing="from memory",
    on="none",
)
def strain_too_low(judged: RuleInput) -> Iterable[Finding]:
    """Far-cortex motion below the target while bridging, where more free holes beside the fracture would mend it."""
    result = _result(judged)
    if result is None or judged.construct.principle != "bridging":
        return
    still = _too_still(judged, result)
    way = _longer_span(judged) if still else None
    if way is None:  # nothing to act on: the target is remembered only, and reviews know no range
        return
    least = judged.thresholds.value("strain-too-low", "motion_min_mm")
    moved = min(_far_motion(result.lines[index]) for index in still)
    message = (
        f"The far cortex moves only about {moved:.2f} mm under {_stage(result)}; callus is thought to want "
        f"{least:g} mm or more."
    )
    yield Finding(message, tuple(f"line-{index}" for index in still), None, way)


def _far_motion(line: LineAnswer) -> float:
    return max(abs(line.motion.far_mm), line.motion.shear_mm)


def _too_still(judged: RuleInput, result: MechanicsResult) -> list[int]:
    """Indices of the open lines that move less than callus wants."""
    least = judged.thresholds.value("strain-too-low", "motion_min_mm")
    return [i for i, line in enumerate(result.lines) if _far_motion(line) < least and not line.interface.closed]


def _after(judged: RuleInput, edit: Edit) -> MechanicsResult | None:
    """The mechanics once an edit is made, so that a remedy offers only what then helps; None if it holds nothing."""
    then = after(judged, edit)
    if then is None or then.loading is None:
        return None
    result = mechanics_of(then.layout, then.catalogue, then.loading)
    return None if result.unstable is not None else result


def _longer_span(judged: RuleInput) -> Remedy | None:
    """Free the innermost hole on each side, where each keeps the screws and cortices that the bone needs."""
    edits = []
    for fragment in (judged.layout.fracture.fragments[0], judged.layout.fracture.fragments[-1]):
        screws = [screw for screw in judged.layout.screws_of(fragment.name) if screw.hole is not None]
        least = minimum(judged)
        if len(screws) <= least.screws or sum(screw.cortices_held for screw in screws) - 2 < least.cortices:
            return None
        inner = screws[-1] if fragment.index == 0 else screws[0]
        edits.append(role_edit(judged, inner.hole or 1, "empty"))
    label = "Free the innermost hole on each side"
    edit = Together(label=label, edits=tuple(edits))
    after = _after(judged, edit)
    return None if after is None or _too_still(judged, after) else Remedy(label, edit)


@MECHANICAL_RULES.rule(
    "plate-fatigue",
    "note",
    says="Stress in the plate swings more, about the stress that tightening left, than its metal bears for long.",
    why="A plate over an open fracture bends at every step; past its fatigue strength it may break, unless bone "
    "is faster.",
    source="Goodman's line (from memory); fatigue strengths at 1e7 cycles, R = -1, and ultimate strengths from memory "
    "(materials table); factor for a hole's edge from own solid finite elements; failed plates put at about 400 MPa "
    "(Gervais 2016)",
    standing="from memory",
    on="none",
)
def plate_fatigue(judged: RuleInput) -> Iterable[Finding]:
    """Swing and mean of the stress against Goodman's line."""
    result = _result(judged)
    if result is None or result.plate is None or result.plate.fatigue_ratio <= 1:
        return
    message = (
        f"Plate stress swings to about {result.plate.fatigue_ratio:.1f} times what the metal bears for long (Goodman, "
        f"R {result.plate.load_ratio:.1f}; {_stage(result)})."
    )
    yield Finding(message, ("plate",))


@MECHANICAL_RULES.rule(
    "plate-yield",
    "note",
    says="Stress in the plate passes its yield strength: it would bend and stay bent.",
    why="Past yield the plate takes a set, and alignment is lost at once.",
    source="0.2 % yield strengths of the materials table",
    standing="from memory",
    on="none",
)
def plate_yield(judged: RuleInput) -> Iterable[Finding]:
    """What the load adds to the plate's stress against yield strength.

    What tightening and a flattened pre-bend leave in it is no part of that: they are advised, and settle by themselves.
    """
    result = _result(judged)
    if result is None or result.plate is None:
        return
    added = result.plate.swing_mpa
    ratio = added / result.plate.yield_mpa
    if ratio <= 1:
        return
    told = f"{added:.0f} MPa, {ratio:.1f} times its yield strength ({_stage(result)})"
    message = f"The load takes plate stress to about {told}."
    yield Finding(message, ("plate",))


@MECHANICAL_RULES.rule(
    "friction-slip",
    "note",
    says="Friction under the cortex screws of a fragment does not hold the plate on it.",
    why="A plate held by cortex screws carries load by friction; past friction × clamp force of all of a fragment's "
    "screws together it slips until they meet the ends of their holes, and compression may be lost.",
    source="Coulomb friction, its coefficient from memory; force of a screw from its torque, most of which is assumed",
    standing="from memory",
    on="none",
)
def friction_slip(judged: RuleInput) -> Iterable[Finding]:
    """Fragments whose clamped screws carry more shear together than their friction holds."""
    result = _result(judged)
    if result is None:
        return
    fragments = judged.layout.fracture.fragments
    slipping = {n: ratio for n, ratio in enumerate(result.slip_ratios) if ratio is not None and ratio > 1 + ROUNDING}
    if slipping:
        told = listed(
            f"the {fragments[n].name} one needs about {ratio:.1f} times its friction" for n, ratio in slipping.items()
        )
        message = (
            f"The plate would slip on {len(slipping)} fragment{'s' * (len(slipping) > 1)}: {told} ({_stage(result)})."
        )
        yield Finding(message, tuple(f"fragment-{fragments[n].name}" for n in slipping))


@MECHANICAL_RULES.rule(
    "pull-out",
    "note",
    says="A screw is pulled harder than its thread in bone is thought to hold.",
    why="Threads strip the bone between them when the pull passes shear strength × threaded cylinder × thread shape.",
    source="Chapman 1996, J Biomech Eng 118:391-8; the formula from memory, its worked table in the tests",
    standing="from memory",
    on="none",
)
def pull_out(judged: RuleInput) -> Iterable[Finding]:
    """Pull against Chapman's pull-out force."""
    result = _result(judged)
    if result is None:
        return
    limit = judged.thresholds.value("pull-out", "max_share")
    pulled = [s for s in result.screws if s.pull_out_ratio is not None and s.pull_out_ratio > limit]
    if pulled:
        worst = max(pulled, key=lambda screw: screw.pull_out_ratio or 0)
        message = (
            f"{worst.id} is pulled with about {worst.pull_n:.0f} N, {(worst.pull_out_ratio or 0) * 100:.0f} % of what "
            f"its thread holds ({_stage(result)})."
        )
        yield Finding(message, tuple(screw.id for screw in pulled))


@MECHANICAL_RULES.rule(
    "opens-under-load",
    "note",
    says="A compressed fracture opens under the load asked of it.",
    why="Absolute stability lasts while the faces stay pressed; once they part, the gap strains more than bone bears.",
    source="preload model: force of a screw from its torque, an eccentric one as a wedge with friction (statics, from "
    "memory); measured forces (PLoS ONE 2023;18:e0286937) are what it is held against; friction by way of Johner 1983",
    standing="from memory",
    on="none",
)
def opens_under_load(judged: RuleInput) -> Iterable[Finding]:
    """A face that was pressed parts before the load is reached, or never was pressed at one cortex."""
    result = _result(judged)
    if result is None or judged.construct.principle == "bridging":
        return
    for index, line in enumerate(result.lines):
        margin = line.interface.margin
        if margin is not None and margin < 0:
            message = (
                f"The fracture begins to open at about {100 * (1 + margin):.0f} % of the load asked ({_stage(result)})."
            )
            yield Finding(message, (f"line-{index}",), None, _prebend(judged, index, line))


def _prebend(judged: RuleInput, index: int, line: LineAnswer) -> Remedy | None:
    """A pre-bend, where the line is square enough to the shaft for one to press its far side."""
    below = judged.thresholds.value("prebend", "transverse_below_deg")
    if abs(judged.layout.fracture.lines[index].obliquity_deg) >= below:
        return None
    if judged.construct.plate.prebend_mm > 0 or line.interface.far_preloaded:
        return None
    if not any(screw.role == "eccentric" for screw in judged.layout.screws):
        return None
    bend = judged.thresholds.value("prebend", "min_mm")
    edit = SetPrebend(target=judged.target, prebend_mm=bend)
    after = _after(judged, edit)
    margin = None if after is None else after.lines[index].interface.margin
    opens = after is None or (margin is not None and margin < 0)
    return None if opens else Remedy(f"Pre-bend the plate {bend:g} mm", edit)


def _stage(result: MechanicsResult) -> str:
    return f"{result.load.axial_n:.0f} N, {ESTIMATE}"
