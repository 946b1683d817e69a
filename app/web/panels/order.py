"""The order panel: the steps of the operation as rows, how each screw can be moved, and what warns of it."""

from dataclasses import dataclass

from app.assess import ConstructAssessment
from app.case.edits import SetOrder
from app.case.forms import EditForm, lacking
from app.geometry import Layout, contour_of
from app.order import Step, order_of, plan
from app.order.corrections import open_words
from app.order.steps import COUNTERSINK, tap_words
from app.rules import left_open
from app.rules.sequence import ORDER_RULES
from app.web.panels.controls import Action

GRAVEST = ("stop", "caution", "note")
LISTED_FROM_DEG = 0.5  # less can't be told from straight on a plate by eye (common practice, no source)


@dataclass(frozen=True, slots=True)
class Mark:
    """What warns of a step: the gravest level, and what is said of it in the first place."""

    level: str
    messages: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BendMark:
    """One bend: between which holes, by how many degrees, and whether it turns the ends away from the bone."""

    holes: str
    angle: str
    away: bool


@dataclass(frozen=True, slots=True)
class BendsView:
    """The bends of a contour as they are made, and their sums in words."""

    marks: tuple[BendMark, ...]
    sums: str


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step. ``movable`` where it puts a screw in; ``up`` and ``down``: whether that can come earlier or later."""

    number: int
    key: str
    part: str
    what: str
    how: str
    why: str
    open: str
    movable: bool
    name: str
    up: bool
    down: bool
    mark: Mark | None
    bends: BendsView | None


@dataclass(frozen=True, slots=True)
class OrderView:
    """What the order panel shows; another order fills in ``form``.

    ``derive`` leads back to the derived order; None where it is that already.
    """

    form: EditForm
    order: tuple[str, ...]
    steps: tuple[StepRow, ...]
    derive: Action | None


def order_view(one: ConstructAssessment) -> OrderView:
    """All rows of one construct."""
    order = order_of(one.layout)
    rows = tuple(_row(one, order, step) for step in plan(one.layout))
    derive = None
    if one.construct.order is not None:
        derive = Action("order-derive", "Back to the derived order", SetOrder(target=one.target, order=None))
    return OrderView(lacking(SetOrder, "order", target=one.target), order, rows, derive)


def _row(one: ConstructAssessment, order: tuple[str, ...], step: Step) -> StepRow:
    movable = step.kind == "insert" and step.screw is not None
    at = order.index(step.screw) if movable and step.screw is not None else -1
    return StepRow(
        number=step.number,
        key=f"step-{step.kind}-{step.screw or 'plate'}-{step.number if not movable else 'in'}",
        part=step.screw or "",
        what=step.what,
        how=how(step),
        why=step.why,
        open=open_words(step.lines),
        movable=movable,
        name=f"hole {step.hole}" if step.hole is not None else f"independent lag screw {(step.screw or '')[1:]}",
        up=at > 0,
        down=movable and at < len(order) - 1,
        mark=_mark(one, step) if movable else None,
        bends=bends_view(one.layout) if step.bends else None,
    )


def bends_view(layout: Layout) -> BendsView:
    """The bends that can be seen on a plate, and what all of them come to."""
    contour = contour_of(layout)
    seen = [bend for bend in contour.bends if abs(bend.angle_deg) >= LISTED_FROM_DEG]
    marks = tuple(
        BendMark(f"{bend.holes[0]}–{bend.holes[1]}", f"{abs(bend.angle_deg):.1f}°", bend.angle_deg > 0) for bend in seen
    )
    bent, turn = f"{contour.bent_deg:.1f}°", f"{contour.turn_deg:.1f}°"
    sums = f"All bends together {bent}" + ("" if turn == bent else f", the last hole turned {turn} against the first")
    rest = f"; those not shown are less than {LISTED_FROM_DEG:g}° each" if len(seen) < len(contour.bends) else ""
    bow = contour.across.bow_mm
    across = f" Across its width it bows {bow:.1f} mm, which bending does not mend." if round(bow, 1) else ""
    return BendsView(marks, f"{sums}{rest}.{across}")


def _mark(one: ConstructAssessment, step: Step) -> Mark | None:
    told = [w for w in left_open(one.warnings) if w.rule in ORDER_RULES.rules and step.screw in w.subject]
    if not told:
        return None
    # the screw that is named first is the one to move; it alone carries the words
    words = tuple(warning.message for warning in told if warning.subject[0] == step.screw)
    return Mark(min((warning.level for warning in told), key=GRAVEST.index), words)


def how(step: Step) -> str:
    """Screw, drills with their guides, tap, depth and tightness in one line."""
    parts = []
    if step.kind == "insert" and step.label is not None:
        length = "no length made" if step.stock_length_mm is None else f"{step.stock_length_mm:g} mm"
        parts.append(f"{step.label}, {length}")
    parts += [f"drill {drill.diameter_mm:g} ({drill.guide})" for drill in step.drills]
    if step.countersink:
        parts.append(COUNTERSINK)
    if step.depth_mm is not None:
        parts.append(f"depth about {step.depth_mm:.0f}")
    if step.tap_mm is not None:
        parts.append(tap_words(step.tap_mm))
    if step.tightness:
        parts.append(f"tighten: {step.tightness}")
    return " · ".join(parts).replace(" N·m", "\u00a0N·m")
