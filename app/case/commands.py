"""The edits of one step each: small typed commands, pure, each changing some fields of the case or of one construct.

``target`` (which construct), ``line``, ``hole`` and ``lag`` are zero-based indices into the document.
"""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import ConfigDict, Field

from app.case import fields
from app.case.models import (
    MAX_CONSTRUCTS,
    SURFACES,
    BodySide,
    Bone,
    BoneQuality,
    Case,
    Construct,
    Document,
    FractureLine,
    Hole,
    LagScrew,
    Principle,
    PutAway,
    Role,
    RuleId,
    ScrewId,
    SeriesKey,
    Subject,
    Surface,
    Wedge,
    Winding,
)
from app.case.planes import apparent_leans, plane_of

Index = Annotated[int, Field(ge=0, lt=64)]
# Validators are built when the first edit is read: the command line seldom reads one, and all of them take a tenth of
# its start.
#
# An edit made here need not say its name twice; in a JSON document ``op`` tells which edit it is, and must be there.
LATE = ConfigDict(defer_build=True, json_schema_extra=lambda schema: _ask_for_op(schema))
Changed = dict[str, object]  # of a model, by name, as they are to be set
TILTED_ROLES = frozenset({"neutral", "eccentric", "lag"})


def _ask_for_op(schema: dict[str, Any]) -> None:
    fields: dict[str, dict[str, Any]] = schema["properties"]
    if "op" in fields:
        fields["op"].pop("default", None)
        needed = {"op", *schema.get("required", ())}
        schema["required"] = [name for name in fields if name in needed]


class CaseEdit(Document):
    """An edit of the case as a whole. ``keeps_window``: what there is to see in the drawing lies where it did."""

    model_config = LATE
    keeps_window: ClassVar[bool] = False

    def change(self, case: Case) -> Changed:
        """The case's fields that this edit sets."""
        raise NotImplementedError


class ConstructEdit(Document):
    """An edit of one construct; ``target`` says which, ``keeps_window`` is as of ``CaseEdit``."""

    model_config = LATE
    keeps_window: ClassVar[bool] = False

    target: Index = 0

    def change(self, construct: Construct) -> Changed:
        """The construct's fields that this edit sets."""
        raise NotImplementedError


class SetTitle(CaseEdit):
    """Name the case."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_title"] = "set_title"
    title: str

    def change(self, case: Case) -> Changed:
        return {"title": self.title}


class SetNote(CaseEdit):
    """Replace the case's note."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_note"] = "set_note"
    note: str

    def change(self, case: Case) -> Changed:
        return {"note": self.note}


class SetQuality(CaseEdit):
    """Set the bone quality of the case."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_quality"] = "set_quality"
    bone_quality: BoneQuality

    def change(self, case: Case) -> Changed:
        return {"bone_quality": self.bone_quality}


class AddConstruct(CaseEdit):
    """Append a construct (a second bone)."""

    op: Literal["add_construct"] = "add_construct"
    value: Construct

    def change(self, case: Case) -> Changed:
        if len(case.constructs) >= MAX_CONSTRUCTS:
            raise fields.refuse("constructs", f"a case holds at most {MAX_CONSTRUCTS} constructs")
        return {"constructs": (*case.constructs, self.value)}


class RemoveConstruct(CaseEdit):
    """Take one construct out; a case keeps at least one."""

    op: Literal["remove_construct"] = "remove_construct"
    target: Index

    def change(self, case: Case) -> Changed:
        if len(case.constructs) == 1:
            raise fields.refuse("constructs", "a case keeps at least one construct")
        return {"constructs": fields.without(case.constructs, self.target, "constructs")}


class ReplaceConstruct(ConstructEdit):
    """Put a whole construct in place of one, e.g. a suggested layout."""

    op: Literal["replace_construct"] = "replace_construct"
    value: Construct

    def change(self, construct: Construct) -> Changed:
        return dict(self.value)


class SetBone(ConstructEdit):
    """Choose the bone and its size; a surface that this bone doesn't offer gives way to its usual one."""

    op: Literal["set_bone"] = "set_bone"
    bone: Bone

    def change(self, construct: Construct) -> Changed:
        if construct.plate.surface in SURFACES[self.bone.name]:
            return {"bone": self.bone}
        return {"bone": self.bone, **fields.plate_with(construct, surface=None)}


class SetSide(ConstructEdit):
    """Say of which side of the body the bone is, or leave it open."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_side"] = "set_side"
    side: BodySide | None

    def change(self, construct: Construct) -> Changed:
        return {"bone": construct.bone.model_copy(update={"side": self.side})}


class SetSurface(ConstructEdit):
    """Choose the surface of the bone that the plate lies on; null: the usual one."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_surface"] = "set_surface"
    surface: Surface | None

    def change(self, construct: Construct) -> Changed:
        return fields.plate_with(construct, surface=self.surface)


class SetCode(ConstructEdit):
    """Set or clear the AO/OTA code."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_code"] = "set_code"
    code: str | None

    def change(self, construct: Construct) -> Changed:
        return fields.fracture_with(construct, code=self.code)


class SetPrinciple(ConstructEdit):
    """Choose compression, protection or bridging."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_principle"] = "set_principle"
    principle: Principle

    def change(self, construct: Construct) -> Changed:
        return {"principle": self.principle}


class MoveFracture(ConstructEdit):
    """Move one fracture line along the axis."""

    op: Literal["move_fracture"] = "move_fracture"
    line: Index = 0
    position_mm: float

    def change(self, construct: Construct) -> Changed:
        return fields.line_with(construct, self.line, position_mm=self.position_mm)


class SetObliquity(ConstructEdit):
    """Lean one fracture line more or less, the way it is turned."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_obliquity"] = "set_obliquity"
    line: Index = 0
    obliquity_deg: float

    def change(self, construct: Construct) -> Changed:
        return fields.line_with(construct, self.line, obliquity_deg=self.obliquity_deg)


class SetTurn(ConstructEdit):
    """Turn the plane of one fracture line about the shaft."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_turn"] = "set_turn"
    line: Index = 0
    turn_deg: float

    def change(self, construct: Construct) -> Changed:
        return fields.line_with(construct, self.line, turn_deg=self.turn_deg)


class SetSpiral(ConstructEdit):
    """Say whether one fracture line winds round the shaft, and which way; null: it is as good as a plane."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_spiral"] = "set_spiral"
    line: Index = 0
    spiral: Winding | None

    def change(self, construct: Construct) -> Changed:
        return fields.line_with(construct, self.line, spiral=self.spiral)


class LeanFracture(ConstructEdit):
    """Lean one fracture line as one view shows it, while the other view shows it as before.

    The profile shows tan a·cos t of its obliquity a and turn t, the face of the plate tan a·sin t.
    """

    keeps_window: ClassVar[bool] = True
    op: Literal["lean_fracture"] = "lean_fracture"
    line: Index = 0
    view: Literal["profile", "face"]
    angle_deg: float = Field(ge=-75, le=75)

    def change(self, construct: Construct) -> Changed:
        old = fields.item(construct.fracture.lines, self.line, "fracture.lines")
        profile, face = apparent_leans(old.obliquity_deg, old.turn_deg)
        seen = (self.angle_deg, face) if self.view == "profile" else (profile, self.angle_deg)
        obliquity, turn = plane_of(*seen)
        return fields.line_with(construct, self.line, obliquity_deg=obliquity, turn_deg=turn)


class SetZone(ConstructEdit):
    """Set the length of shaft without load-bearing bone at one line."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_zone"] = "set_zone"
    line: Index = 0
    zone_mm: float

    def change(self, construct: Construct) -> Changed:
        return fields.line_with(construct, self.line, zone_mm=self.zone_mm)


class AddLine(ConstructEdit):
    """Add a fracture line; lines are kept in order along the shaft."""

    op: Literal["add_line"] = "add_line"
    value: FractureLine

    def change(self, construct: Construct) -> Changed:
        old = construct.fracture.lines
        lines = sorted((*old, self.value), key=lambda line: line.position_mm)
        wedge = construct.fracture.wedge
        if wedge is not None and self.value.position_mm < old[wedge.line].position_mm:
            wedge = wedge.model_copy(update={"line": wedge.line + 1})
        return fields.fracture_with(construct, lines=tuple(lines), wedge=wedge)


class RemoveLine(ConstructEdit):
    """Take one fracture line out, with its wedge; one line stays."""

    op: Literal["remove_line"] = "remove_line"
    line: Index

    def change(self, construct: Construct) -> Changed:
        fracture = construct.fracture
        if len(fracture.lines) == 1:
            raise fields.refuse("fracture.lines", "a fracture keeps at least one line")
        lines = fields.without(fracture.lines, self.line, "fracture.lines")
        wedge = fracture.wedge
        if wedge is not None and wedge.line >= self.line:
            wedge = None if wedge.line == self.line else wedge.model_copy(update={"line": wedge.line - 1})
        return fields.fracture_with(construct, lines=lines, wedge=wedge)


class SetGap(ConstructEdit):
    """Set the gap that stays after reduction."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_gap"] = "set_gap"
    gap_mm: float

    def change(self, construct: Construct) -> Changed:
        return fields.fracture_with(construct, gap_mm=self.gap_mm)


class SetWedge(ConstructEdit):
    """Add, change or remove the wedge."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_wedge"] = "set_wedge"
    wedge: Wedge | None

    def change(self, construct: Construct) -> Changed:
        return fields.fracture_with(construct, wedge=self.wedge)


class SetPlate(ConstructEdit):
    """Change series or number of holes; holes come and go at the distal end, so the others keep their number."""

    op: Literal["set_plate"] = "set_plate"
    series: SeriesKey
    holes: int = Field(ge=2, le=24)
    centre_mm: float | None = None

    def change(self, construct: Construct) -> Changed:
        held = construct.holes[: self.holes]
        holes = held + (Hole(),) * (self.holes - len(held))
        centre = construct.plate.centre_mm if self.centre_mm is None else self.centre_mm
        update = {"series": self.series, "holes": self.holes, "centre_mm": centre}
        return fields.with_order(construct, plate=construct.plate.model_copy(update=update), holes=holes)


class MovePlate(ConstructEdit):
    """Slide the plate along the shaft."""

    op: Literal["move_plate"] = "move_plate"
    centre_mm: float

    def change(self, construct: Construct) -> Changed:
        return fields.plate_with(construct, centre_mm=self.centre_mm)


class SetStandoff(ConstructEdit):
    """Set the clear distance between plate and bone."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_standoff"] = "set_standoff"
    standoff_mm: float

    def change(self, construct: Construct) -> Changed:
        return fields.plate_with(construct, standoff_mm=self.standoff_mm)


class SetPrebend(ConstructEdit):
    """Set how far the plate's middle stands off before the screws go in."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_prebend"] = "set_prebend"
    prebend_mm: float

    def change(self, construct: Construct) -> Changed:
        return fields.plate_with(construct, prebend_mm=self.prebend_mm)


class SetRole(ConstructEdit):
    """Give one hole a role; the tilt goes where the role can't have one."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_role"] = "set_role"
    hole: Index
    role: Role
    tilt_deg: float | None = None

    def change(self, construct: Construct) -> Changed:
        old = fields.item(construct.holes, self.hole, "holes")
        tilt = old.tilt_deg if self.tilt_deg is None else self.tilt_deg
        new = Hole.model_construct(role=self.role, tilt_deg=tilt if self.role in TILTED_ROLES else 0.0)
        return fields.with_order(construct, holes=fields.put(construct.holes, self.hole, new))


class SetTilt(ConstructEdit):
    """Lean the screw of one hole; positive leans the tip distally."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_tilt"] = "set_tilt"
    hole: Index
    tilt_deg: float

    def change(self, construct: Construct) -> Changed:
        old = fields.item(construct.holes, self.hole, "holes")
        return {"holes": fields.put(construct.holes, self.hole, old.model_copy(update={"tilt_deg": self.tilt_deg}))}


class AddLag(ConstructEdit):
    """Add an independent lag screw: one beside the plate."""

    op: Literal["add_lag"] = "add_lag"
    value: LagScrew

    def change(self, construct: Construct) -> Changed:
        return fields.with_order(construct, lag_screws=(*construct.lag_screws, self.value))


class SetLag(ConstructEdit):
    """Move, lean, turn or exchange an independent lag screw; what isn't given stays."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_lag"] = "set_lag"
    lag: Index
    position_mm: float | None = None
    tilt_deg: float | None = None
    turn_deg: float | None = None
    screw: SeriesKey | None = None

    def change(self, construct: Construct) -> Changed:
        old = fields.item(construct.lag_screws, self.lag, "lag_screws")
        given = {name: getattr(self, name) for name in ("position_mm", "tilt_deg", "turn_deg", "screw")}
        new = old.model_copy(update={name: value for name, value in given.items() if value is not None})
        return {"lag_screws": fields.put(construct.lag_screws, self.lag, new)}


class RemoveLag(ConstructEdit):
    """Take one independent lag screw out; later ones move up one number, in the order too."""

    op: Literal["remove_lag"] = "remove_lag"
    lag: Index

    def change(self, construct: Construct) -> Changed:
        screws = fields.without(construct.lag_screws, self.lag, "lag_screws")
        order = construct.order
        if order is not None:
            order = tuple(fields.renumbered(name, self.lag + 1) for name in order if name != f"s{self.lag + 1}")
        return {"lag_screws": screws, "order": order}


class SetOrder(ConstructEdit):
    """Set the order of insertion, or null for the derived one."""

    keeps_window: ClassVar[bool] = True
    op: Literal["set_order"] = "set_order"
    order: Annotated[tuple[ScrewId, ...], Field(fail_fast=True)] | None

    def change(self, construct: Construct) -> Changed:
        return {"order": self.order}


class Acknowledge(CaseEdit):
    """Put a note away, or bring it back: on one construct, or (null) on the case as a whole.

    The note is known by its rule and by what it is about; without a subject all notes of the rule are meant. Notes
    alone can be put away; what the rule says at a graver level goes on being told.
    """

    keeps_window: ClassVar[bool] = True
    op: Literal["acknowledge"] = "acknowledge"
    rule: RuleId
    subject: Subject | None = None
    target: Index | None
    put_away: bool = True

    def change(self, case: Case) -> Changed:
        if self.target is None:
            return {"acknowledged": self._changed(case.acknowledged)}
        old = fields.item(case.constructs, self.target, "constructs")
        new = old.model_copy(update={"acknowledged": self._changed(old.acknowledged)})
        return {"constructs": fields.put(case.constructs, self.target, new)}

    def _changed(self, known: tuple[PutAway, ...]) -> tuple[PutAway, ...]:
        if self.put_away:
            return (*known, PutAway(rule=self.rule, subject=self.subject))
        # what was put away as any note of the rule comes back with the first that is asked for
        meant = {self.subject, None}
        return tuple(one for one in known if one.rule != self.rule or (self.subject and one.subject not in meant))
