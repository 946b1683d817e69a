"""What the frame model adds: motion, stress and screw load against what tissue, metal and bone bear.

All figures are model estimates for comparing layouts, so these are notes; a caution only where strain passes what any
tissue is thought to bear, a stop only where nothing is held at all.
"""

from collections.abc import Iterable

from app.case import apply
from app.case.edits import Edit, SetPrebend, Together
from app.geometry import Allowances, lay_out
from app.mechanics import LineAnswer, MechanicsResult
from app.mechanics.document import ESTIMATE
from app.mechanics.of_layout import mechanics_of
from app.rules.edits import role_edit
from app.rules.facts import minimum
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput

MECHANICAL_RULES = Registry()


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
)
def unstable(judged: RuleInput) -> Iterable[Finding]:
    """A fragment that nothing holds."""
    if judged.mechanics is not None and judged.mechanics.unstable is not None:
        yield Finding(f"{judged.mechanics.unstable[0].upper()}{judged.mechanics.unstable[1:]}.", ("plate",))


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
)
def strain_too_high(judged: RuleInput) -> Iterable[Finding]:
    """Strain above the band of the principle: fibrocartilage for bridging, bone for absolute stability."""
    result = _result(judged)
    if result is None:
        return
    bridging = judged.construct.principle == "bridging"
    name = "fibrocartilage_max_percent" if bridging else "bone_max_percent"
    limit = judged.thresholds.value("strain-too-high", name)
    ruinous = judged.thresholds.value("strain-too-high", "granulation_max_percent")
    for index, line in enumerate(result.lines):
        worst = max(_strains(line), key=lambda pair: pair[1], default=None)
        if worst is None or worst[1] <= limit:
            continue
        level: Level | None = "caution" if worst[1] > ruinous else None
        message = (
            f"Strain at the {worst[0]} cortex is about {worst[1]:.0f} %, above {limit:.0f} % "
            f"for {'callus' if bridging else 'healing without callus'} ({_stage(result)})."
        )
        yield Finding(message, (f"line-{index}",), level)


@MECHANICAL_RULES.rule(
    "strain-too-low",
    "note",
    says="A bridging construct so stiff that the far cortex hardly moves.",
    why="Callus is thought to need some motion; with too little, a bridged fracture may heal slowly while the plate "
    "carries on alone.",
    source="deficient callus in 37 % at 24 weeks under stiff locked plates (Lujan 2010, J Orthop Trauma 24:156); the "
    "lower target of 0.2 mm from memory",
    standing="from memory",
)
def strain_too_low(judged: RuleInput) -> Iterable[Finding]:
    """Far-cortex motion below the target while bridging; more free holes beside the fracture help."""
    result = _result(judged)
    if result is None or judged.construct.principle != "bridging":
        return
    least = judged.thresholds.value("strain-too-low", "motion_min_mm")
    for index in _too_still(judged, result):
        message = (
            f"The far cortex moves only about {_far_motion(result.lines[index]):.2f} mm under "
            f"{_stage(result)}; callus is thought to want {least:g} mm or more."
        )
        yield Finding(message, (f"line-{index}",), None, _longer_span(judged))


def _far_motion(line: LineAnswer) -> float:
    return max(abs(line.motion.far_mm), line.motion.shear_mm)


def _too_still(judged: RuleInput, result: MechanicsResult) -> list[int]:
    """Indices of the open lines that move less than callus wants."""
    least = judged.thresholds.value("strain-too-low", "motion_min_mm")
    return [i for i, line in enumerate(result.lines) if _far_motion(line) < least and not line.interface.closed]


def _after(judged: RuleInput, edit: Edit) -> MechanicsResult | None:
    """The mechanics once an edit is made, so that a remedy offers only what then helps; None if it holds nothing."""
    if judged.loading is None:
        return None
    case = apply(judged.case, edit)
    layout = lay_out(
        case.constructs[judged.target], case.bone_quality, judged.catalogue, Allowances.of(judged.thresholds)
    )
    result = mechanics_of(layout, judged.catalogue, judged.loading)
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
    says="Stress in the plate swings more than its metal bears for long.",
    why="A plate over an open fracture bends at every step; past its fatigue strength it may break, unless bone "
    "is faster.",
    source="fatigue strengths at 1e7 cycles, R = -1, from memory (materials table); failed plates put at about 400 MPa "
    "(Gervais 2016)",
    standing="from memory",
)
def plate_fatigue(judged: RuleInput) -> Iterable[Finding]:
    """Stress swing against fatigue strength."""
    result = _result(judged)
    if result is None or result.plate is None or result.plate.fatigue_ratio <= 1:
        return
    message = (
        f"Plate stress swings to about {result.plate.fatigue_ratio:.1f} times the fatigue strength at "
        f"{result.plate.peak_s_mm:.0f} mm ({_stage(result)})."
    )
    yield Finding(message, ("plate",))


@MECHANICAL_RULES.rule(
    "plate-yield",
    "note",
    says="Stress in the plate passes its yield strength: it would bend and stay bent.",
    why="Past yield the plate takes a set, and alignment is lost at once.",
    source="0.2 % yield strengths of the materials table",
    standing="from memory",
)
def plate_yield(judged: RuleInput) -> Iterable[Finding]:
    """Peak stress against yield strength."""
    result = _result(judged)
    if result is None or result.plate is None or result.plate.yield_ratio <= 1:
        return
    message = (
        f"Plate stress reaches about {result.plate.peak_mpa:.0f} MPa at {result.plate.peak_s_mm:.0f} mm, "
        f"{result.plate.yield_ratio:.1f} times its yield strength ({_stage(result)})."
    )
    yield Finding(message, ("plate",))


@MECHANICAL_RULES.rule(
    "friction-slip",
    "note",
    says="A cortex screw's clamp does not hold the plate by friction alone.",
    why="A plate held by cortex screws carries load by friction; past friction × clamp force it slips until the "
    "screw's shaft meets its hole, and compression may be lost.",
    source="Coulomb friction; coefficient and clamp force from memory",
    standing="from memory",
)
def friction_slip(judged: RuleInput) -> Iterable[Finding]:
    """Clamped screws whose shear passes friction × clamp force."""
    result = _result(judged)
    if result is None:
        return
    # A lag screw is there to press the fracture, not the plate: leaning, its own pull already drags its head along.
    lags = {screw.id for screw in judged.layout.screws if screw.role == "lag"}
    slipping = [s for s in result.screws if s.friction_ratio is not None and s.friction_ratio > 1 and s.id not in lags]
    if slipping:
        worst = max(slipping, key=lambda screw: screw.friction_ratio or 0)
        message = (
            f"{len(slipping)} clamped screw{'s' * (len(slipping) > 1)} would slip; {worst.id} needs about "
            f"{worst.friction_ratio:.1f} times its friction ({_stage(result)})."
        )
        yield Finding(message, tuple(screw.id for screw in slipping))


@MECHANICAL_RULES.rule(
    "pull-out",
    "note",
    says="A screw is pulled harder than its thread in bone is thought to hold.",
    why="Threads strip the bone between them when the pull passes shear strength × threaded cylinder × thread shape.",
    source="Chapman 1996, J Biomech Eng 118:391-8; the formula from memory, its worked table in the tests",
    standing="from memory",
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
    source="preload model: forces of eccentric screws measured (PLoS ONE 2023;18:e0286937) and remembered; friction by "
    "way of Johner 1983",
    standing="from memory",
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
