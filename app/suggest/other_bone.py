"""The same problem on another bone: what can be kept of a construct, and what can't."""

from pydantic import ValidationError

from app.assess import Knowledge
from app.case.codes import PREFIXES, parse_code, patterns_of
from app.case.edits import LABEL_LENGTH, ReplaceConstruct, Together
from app.case.models import LONGEST_WEDGE_MM, SHORTEST_WEDGE_MM, SURFACES, BoneName, Case, Construct, Fracture, LagScrew
from app.catalogue.models import BoneSpec
from app.geometry.limits import END_MARGIN_MM, plate_range
from app.suggest.patterns import blank_case
from app.suggest.proposals import can_be_shown, nearest_made


def on_other_bone(case: Case, target: int, bone: BoneName, knowledge: Knowledge) -> Together:
    """The edit that puts a construct on another bone; its label says what could not be kept.

    The label says on which surface of that bone the plate is taken to lie. Side, principle, pattern and gap stay;
    places along the shaft keep their share of its length. A plate that this bone usually takes stays with its roles,
    otherwise the bone begins with its own plate, empty. Notes that were put away were about the bone before. What can't
    be drawn so begins as a new case of the bone does.
    """
    old = case.constructs[target]
    blank = blank_case(bone, bone, knowledge).constructs[0]
    begun = blank.model_copy(
        update={"bone": blank.bone.model_copy(update={"side": old.bone.side}), "principle": old.principle}
    )
    kept = _scaled(old, begun, knowledge)
    if not _can_be(case, target, kept, knowledge):
        kept = begun
    return Together(label=_label(old, kept), edits=(ReplaceConstruct(target=target, value=kept),))


def _label(old: Construct, kept: Construct) -> str:
    """Which bone, on which surface its plate is taken to lie, and what is lost; without the surface if it gets long."""
    lost = _lost(old, kept)
    tail = f"; not kept: {', '.join(lost)}" if lost else ""
    label = f"Bone: {kept.bone.name}, plate on the {kept.surface} surface{tail}"
    return label if len(label) <= LABEL_LENGTH else f"Bone: {kept.bone.name}{tail}"


def _can_be(case: Case, target: int, kept: Construct, knowledge: Knowledge) -> bool:
    """Whether it is a construct at all, with every length in its range, and can be shown."""
    try:
        edit = ReplaceConstruct(target=target, value=kept)
    except ValidationError:
        return False
    return can_be_shown(case, edit, knowledge)


def _scaled(old: Construct, begun: Construct, knowledge: Knowledge) -> Construct:
    was, spec = knowledge.catalogue.bones[old.bone.name], knowledge.catalogue.bones[begun.bone.name]
    share = spec.length_mm / (old.bone.length_mm or was.length_mm)
    made = begun.model_copy(
        update={
            "fracture": _fracture(old.fracture, begun, share),
            "lag_screws": tuple(_lag(lag, share, spec) for lag in old.lag_screws),
        }
    )
    if old.plate.series not in spec.usual_series:
        return made
    series = knowledge.catalogue.series[old.plate.series]
    holes = nearest_made(series, old.plate.holes, spec.length_mm)
    if holes is None:
        return made
    low, high = plate_range(series, holes, spec.length_mm)
    surface = old.plate.surface if old.plate.surface in SURFACES[begun.bone.name] else None
    centre = round(min(max(old.plate.centre_mm * share, low), high), 1)
    plate = old.plate.model_copy(update={"holes": holes, "surface": surface, "centre_mm": centre})
    roles = old.holes[:holes] + begun.holes[:1] * (holes - len(old.holes))
    order = old.order if holes == old.plate.holes else None
    return made.model_copy(update={"plate": plate, "holes": roles, "order": order})


def _fracture(old: Fracture, begun: Construct, share: float) -> Fracture:
    pattern = None if old.code is None else parse_code(old.code).pattern
    exists = pattern in patterns_of(begun.bone.name)
    lines = tuple(
        line.model_copy(
            update={"position_mm": round(line.position_mm * share, 1), "zone_mm": round(line.zone_mm * share, 1)}
        )
        for line in old.lines
    )
    wedge = old.wedge
    if wedge is not None:
        length = min(max(round(wedge.length_mm * share, 1), SHORTEST_WEDGE_MM), LONGEST_WEDGE_MM)
        wedge = wedge.model_copy(update={"length_mm": length})
    code = f"{PREFIXES[begun.bone.name]}{pattern}" if exists else None
    return old.model_copy(update={"code": code, "lines": lines, "wedge": wedge})


def _lag(lag: LagScrew, share: float, spec: BoneSpec) -> LagScrew:
    place = min(max(lag.position_mm * share, END_MARGIN_MM), spec.length_mm - END_MARGIN_MM)
    return lag.model_copy(update={"position_mm": round(place, 1)})


def _lost(old: Construct, kept: Construct) -> list[str]:
    """What of a construct another one lacks, in words."""
    sized = old.bone.length_mm is not None or old.bone.midshaft_depth_mm is not None
    leans = [[(line.obliquity_deg, line.turn_deg) for line in one.fracture.lines] for one in (old, kept)]
    found = {
        "its size": sized,
        "the fracture’s code": old.fracture.code is not None and kept.fracture.code is None,
        "the fracture as drawn": leans[0] != leans[1],
        "the plate": kept.plate.series != old.plate.series,
        "holes of the plate": kept.plate.series == old.plate.series and kept.plate.holes < old.plate.holes,
        "the surface": old.plate.surface is not None and kept.plate.surface is None,
        "screws": any(name not in kept.screw_ids for name in old.screw_ids),
        "the order": old.order is not None and kept.order is None,
        "notes put away": bool(old.acknowledged),
    }
    return [words for words, lost in found.items() if lost]
