"""Order of insertion: rules on the sequence in which the screws go in."""

from collections.abc import Callable, Iterator
from functools import lru_cache

from app.case.edits import SetOrder
from app.geometry import Line
from app.order import derive_order, order_of
from app.order.progress import InsertionSequence, acts_from, blocker, both_locked, first_fixed
from app.order.roles import Placed, acute_fragment, obtuse_fragment, placed_screws
from app.order.steps import place
from app.rules.registry import Finding, Registry, Remedy, RuleInput

ORDER_RULES = Registry()

Fault = tuple[str, tuple[str, ...]]
Faults = Callable[[RuleInput, InsertionSequence], list[Fault]]


def sequence_of(judged: RuleInput, order: tuple[str, ...] | None = None) -> InsertionSequence:
    """The screws in the order that counts for this construct, or in a given one."""
    if order is None:
        return _own_sequence(judged)
    screws = placed_screws(judged.layout)
    return tuple(screws[name] for name in order)


@lru_cache(maxsize=8)
def _own_sequence(judged: RuleInput) -> InsertionSequence:
    """All rules on the order look at the same sequence, so it is worked out once for a judgement."""
    return sequence_of(judged, order_of(judged.layout))


def derived_remedy(judged: RuleInput, faults: Faults) -> Remedy | None:
    """Back to the derived order, where that one has none of these faults."""
    if judged.construct.order is None or faults(judged, sequence_of(judged, derive_order(judged.layout))):
        return None
    return Remedy("Use the derived order", SetOrder(target=judged.target, order=None))


def _findings(judged: RuleInput, faults: Faults, *roles: str) -> Iterator[Finding]:
    """Findings where the construct has screws of all the roles without which there is nothing to judge."""
    placed = {screw.role for screw in judged.layout.screws}
    if not all(any(role.startswith(needed) for role in placed) for needed in roles):
        return
    found = faults(judged, sequence_of(judged))
    remedy = derived_remedy(judged, faults) if found else None
    for message, subject in found:
        yield Finding(message, subject, remedy=remedy)


def _name(judged: RuleInput, index: int) -> str:
    return judged.layout.fracture.fragments[index].name


def _acute_first(sequence: InsertionSequence, line: Line) -> Placed | None:
    """The screw that fixes the acute side of a line first, where an eccentric screw then closes that line.

    Where the obtuse side is the one that is pulled, the roles are at fault, and first-screw-side says so.
    """
    pulled = {one.fragment for one in sequence if one.function == "compress" and one.line == line.index}
    first = first_fixed(sequence, line) if pulled and obtuse_fragment(line) not in pulled else None
    return first if first is not None and first.fragment == acute_fragment(line) else None


def _obtuse_faults(judged: RuleInput, sequence: InsertionSequence) -> list[Fault]:
    found: list[Fault] = []
    for line in judged.layout.fracture.lines:
        first, obtuse = _acute_first(sequence, line), obtuse_fragment(line)
        if first is None or obtuse is None:
            continue
        found.append(
            (
                f"The screw in {place(first)} fixes the {_name(judged, first.fragment)} fragment first, but the "
                f"{_name(judged, obtuse)} one has the obtuse corner at the plate ({abs(line.obliquity_deg):.0f}°): "
                "compression lets it slide along the line.",
                (first.id, f"line-{line.index}"),
            )
        )
    return found


@ORDER_RULES.rule(
    "obtuse-first",
    "caution",
    says="In an oblique fracture the fragment with the obtuse corner at the plate is fixed first.",
    why=(
        "Plate and obtuse corner form an axilla (a pocket) that catches the other fragment's tip when it is drawn in. "
        "Fixed the other way round nothing catches it: the fragment slides along the line, away from the plate."
    ),
    source="AO Surgery Reference, application of compression plates to oblique fractures",
    standing="handbook",
    on="humans",
)
def obtuse_first(judged: RuleInput) -> Iterator[Finding]:
    """Name the screw that fixes the acute side first, where an order could do better."""
    return _findings(judged, _obtuse_faults, "eccentric")


def _unheld_faults(_judged: RuleInput, sequence: InsertionSequence) -> list[Fault]:
    found: list[Fault] = []
    for i, pull in enumerate(sequence):
        if pull.function != "compress" or acts_from(sequence[: i + 1], pull) is not None:
            continue
        later = next((one for one in sequence if one.on_plate and one.fragment == pull.across), None)
        if later is not None and later.function != "compress":
            found.append(
                (
                    f"The eccentric screw in {place(pull)} comes before anything holds the other side: it pulls on "
                    f"nothing until {place(later)} follows, and no first screw is there to be checked after it.",
                    (pull.id, later.id),
                )
            )
    return found


@ORDER_RULES.rule(
    "check-first-screw",
    "caution",
    says="A screw holds the other side before an eccentric one pulls, and is checked and retightened after it.",
    why=(
        "An eccentric screw shifts its fragment against the one that the plate is already held to. That shift can "
        "loosen the first screw, so it is checked at once."
    ),
    source="on the bench (Injury 2011, abstract read), plates with combination holes: after a second eccentric screw "
    "the first neutral one no longer seats fully; that a first one loosens it: common practice",
    standing="published",
    on="bench",
)
def check_first_screw(judged: RuleInput) -> Iterator[Finding]:
    """Name eccentric screws that go in before the screw they pull against."""
    return _findings(judged, _unheld_faults, "eccentric")


def _stopped(sequence: InsertionSequence) -> Iterator[tuple[Placed, Placed]]:
    """Eccentric screws whose travel is lost by this order, each with the screw that was in too early.

    Where nothing holds the other side no order helps; eccentric-count says so.
    """
    for pull in sequence:
        if pull.function == "compress" and acts_from(sequence, pull) is not None:
            stop = blocker(sequence, pull)
            if stop is not None:
                yield pull, stop


def _blocked_faults(judged: RuleInput, sequence: InsertionSequence) -> list[Fault]:
    if judged.construct.principle != "compression":
        return []
    found: list[Fault] = []
    for pull, stop in _stopped(sequence):
        # a locking screw in the same fragment is told by eccentric-locked
        if stop.function != "lock":
            what = "joins the fragments" if stop.joins_line else "holds the same fragment"
            found.append(
                (
                    f"The eccentric screw in {place(pull)} comes too late: the screw in {place(stop)} already {what}, "
                    f"and its travel of {judged.layout.series.travel_mm:g} mm is lost.",
                    (pull.id, stop.id),
                )
            )
    return found


@ORDER_RULES.rule(
    "compress-first",
    "caution",
    says="The eccentric screw goes in before a lag across its line and before other screws in its own fragment.",
    why=(
        "What is already held cannot be drawn in: a lag resists the travel or is bent by it, and a neutral screw on "
        "the moving side clamps it where it is. Further screws go into the side that stands still."
    ),
    source="AO Surgery Reference: oblique fractures, lag after compression; ulna, further screws in the neutral side",
    standing="handbook",
    on="humans",
)
def compress_first(judged: RuleInput) -> Iterator[Finding]:
    """Name eccentric screws whose travel is lost."""
    return _findings(judged, _blocked_faults, "eccentric")


def _locked_pull_faults(judged: RuleInput, sequence: InsertionSequence) -> list[Fault]:
    return [
        (
            f"The eccentric screw in {place(pull)} comes too late: the locking screw in {place(stop)} already holds "
            f"the {_name(judged, pull.fragment)} fragment, and its travel of {judged.layout.series.travel_mm:g} mm is "
            "lost.",
            (pull.id, stop.id),
        )
        for pull, stop in _stopped(sequence)
        if stop.function == "lock"
    ]


@ORDER_RULES.rule(
    "eccentric-locked",
    "caution",
    says="An eccentric screw moves its fragment before any locking screw holds that fragment.",
    why="A locking screw fixes the distance from plate to bone where it finds it. The travel of an eccentric screw "
    "that comes after it is lost.",
    source="AO Surgery Reference, proximal tibia (excerpt read): once each main fragment has its first locking screw, "
    "length and rotation are fixed. The order in words (non-locking screws first) is on veterinary pages only",
    standing="handbook",
    on="humans",
)
def eccentric_locked(judged: RuleInput) -> Iterator[Finding]:
    """Name eccentric screws whose fragment is locked before they pull."""
    return _findings(judged, _locked_pull_faults, "eccentric", "locking")


def _late_lag_faults(judged: RuleInput, sequence: InsertionSequence) -> list[Fault]:
    found: list[Fault] = []
    for i, lag in enumerate(sequence):
        line = judged.layout.fracture.lines[lag.line]
        if not lag.joins_line or not both_locked(sequence[:i], line):
            continue
        sides = f"{_name(judged, line.index)} and {_name(judged, line.index + 1)}"
        found.append(
            (
                f"The {place(lag) if lag.screw.hole is None else f'lag screw in {place(lag)}'} comes after locking "
                f"screws in the {sides} fragments: they keep the line as open as they found it.",
                (lag.id, f"line-{line.index}"),
            )
        )
    return found


@ORDER_RULES.rule(
    "lag-before-lock",
    "caution",
    says="Lag screws are tightened before both sides of their line are locked to the plate.",
    why="Two locked fragments stand at a fixed distance. A lag can then neither close the gap nor press the faces.",
    source="AO Surgery Reference, proximal tibia (excerpt read): once each main fragment has its first locking screw, "
    "length and rotation are fixed. The order in words is on veterinary pages only",
    standing="handbook",
    on="humans",
)
def lag_before_lock(judged: RuleInput) -> Iterator[Finding]:
    """Name lag screws that come too late."""
    return _findings(judged, _late_lag_faults, "lag", "locking")


def _late_cortex_faults(judged: RuleInput, sequence: InsertionSequence) -> list[Fault]:
    found: list[Fault] = []
    for i, one in enumerate(sequence):
        if one.function != "fix":
            continue
        lock = next(
            (other for other in sequence[:i] if other.function == "lock" and other.fragment == one.fragment), None
        )
        if lock is not None:
            found.append(
                (
                    f"The neutral screw in {place(one)} comes after the locking screw in {place(lock)}, which already "
                    f"holds the {_name(judged, one.fragment)} fragment. It can't draw plate and bone together.",
                    (one.id, lock.id),
                )
            )
    return found


@ORDER_RULES.rule(
    "cortex-before-lock",
    "caution",
    says="In a fragment with both, neutral screws are placed and tightened before any locking screw.",
    why=(
        "A cortex screw draws bone and plate together; a locking one keeps the distance it finds. Put in after it, the "
        "cortex screw works against the lock and loads it, and moves nothing."
    ),
    source="AO Surgery Reference (veterinary pages; no human source found for the order): non-locking screws placed "
    "and tightened before any locking screw. The reason is human (AO, distal femur): a cortex screw draws bone to "
    "plate, a locking one keeps the distance",
    standing="handbook",
    on="veterinary",
)
def cortex_before_lock(judged: RuleInput) -> Iterator[Finding]:
    """Name neutral screws that come too late."""
    return _findings(judged, _late_cortex_faults, "neutral", "locking")


def _one_end_faults(judged: RuleInput, sequence: InsertionSequence) -> list[Fault]:
    plate = [one for one in sequence if one.on_plate]
    for i, one in enumerate(plate[1:], start=1):
        if any(other.fragment != one.fragment for other in plate[:i]):
            return []
        later = next((other for other in plate[i + 1 :] if other.fragment != one.fragment), None)
        if one.function == "lock" and later is not None:
            return [
                (
                    f"The locking screw in {place(one)} settles the {_name(judged, one.fragment)} end while the "
                    f"other one is still free; {place(later)} should come before it.",
                    (one.id, later.id),
                )
            ]
    return []


@ORDER_RULES.rule(
    "secure-other-end",
    "caution",
    says="Before a second screw locks one end, the plate's other end is secured.",
    why=(
        "Driving a locking screw home turns the plate with it as long as one end is free, and two locked screws settle "
        "for good where that end comes to lie: beside the bone, if it has turned."
    ),
    source="common practice, no source",
    standing="common practice",
    on="none",
)
def secure_other_end(judged: RuleInput) -> Iterator[Finding]:
    """Name the first screw that settles one end with the other still free."""
    return _findings(judged, _one_end_faults, "locking")


@ORDER_RULES.rule(
    "torque-by-hand",
    "note",
    says="Locking screws are driven home slowly by hand, to one click of a torque limiter of the figure that belongs "
    "to them; power may run them in through the limiter, if each is then finished by hand.",
    why="Driven fast, a limiter lets through a multiple of its figure, and the head may jam in the plate, strip, or "
    "not come out again; by power alone a screw may also be left too loose.",
    source="1.5 N·m limiters on the bench: slowly by hand is truest; fast or by power too strong in one test (Am J "
    "Orthop 2016;45:E114), by power too weak in another (J Orthop Surg Res 2016, s13018-016-0458-y). Abstracts read",
    standing="published",
    on="bench",
)
def torque_by_hand(judged: RuleInput) -> Iterator[Finding]:
    """Say so where the stock list gives no torque for a locking screw that is used; steps and tools name the rest."""
    without = [s for s in judged.layout.screws if s.spec.kind == "locking" and s.spec.torque_nm is None]
    if without:
        label = without[0].spec.label
        yield Finding(
            f"No torque is on file for the {label}: find its maker's figure before driving it home, by hand.",
            tuple(screw.id for screw in without),
        )
