"""The assessment as a document, ``fishplate-assessment/2``: its shape, how it is filled, and the JSON Schemas."""

from typing import Annotated, Any, Literal

from pydantic import GetJsonSchemaHandler, TypeAdapter, with_config
from pydantic.json_schema import JsonSchemaValue
from typing_extensions import TypedDict

from app.assess import Assessment, ConstructAssessment, Drawn
from app.case.closed import CLOSED
from app.case.edits import Edit, edit_document
from app.case.models import FORMAT as CASE_FORMAT
from app.case.models import Case
from app.geometry import Contour, ScrewPath, contour_of
from app.layout_map.shape import map_schema
from app.mechanics.document import MechanicsDocument
from app.order import order_document, plan
from app.order.document import StepDocument
from app.rules import Warning

FORMAT: Literal["fishplate-assessment/2"] = "fishplate-assessment/2"


@with_config(CLOSED)
class FragmentDocument(TypedDict):
    """Hold in one fragment, mm."""

    name: str
    screws: int
    cortices: int
    independent_lags: int
    spread_mm: float
    nearest_screw_mm: float | None
    obtuse_at_plate: bool


@with_config(CLOSED)
class ScrewDocument(TypedDict):
    """One screw; ``cortices`` pairs each cortex passed with its owner.

    ``lean_deg``: its axis against the perpendicular to the shaft; ``turn_deg``: of its plane about the shaft.
    """

    id: str
    role: str
    lean_deg: float
    turn_deg: float
    cortices: list[tuple[str, str]]
    length_mm: float
    stock_length_mm: float | None
    crosses_fracture: bool
    angle_to_fracture_normal_deg: float | None


class ShapedAsEdit:
    """Says in the schema that an edit stands here; what is written is only what was given, without the defaults."""

    def __get_pydantic_json_schema__(self, _own: object, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """The schema of the edits that the API takes."""
        return handler(TypeAdapter(Edit).core_schema)


@with_config(CLOSED)
class RemedyDocument(TypedDict):
    """A remedy, as an edit."""

    label: str
    edit: Annotated[dict[str, Any], ShapedAsEdit()]


@with_config(CLOSED)
class WarningDocument(TypedDict):
    """One warning; ``acknowledged``: a note that was put away, as stops and cautions never are.

    ``unmended``: why a stop or caution offers no remedy; empty where it offers one, and for notes.
    """

    rule: str
    level: Literal["stop", "caution", "note"]
    subject: list[str]
    message: str
    why: str
    source: str
    remedy: RemedyDocument | None
    acknowledged: bool
    unmended: str


@with_config(CLOSED)
class BendDocument(TypedDict):
    """The bend between two neighbouring holes (degrees); positive turns the plate's ends away from the bone's axis."""

    holes: tuple[int, int]
    angle_deg: float


@with_config(CLOSED)
class PrebendDocument(TypedDict):
    """The sharp bend on top of the contour, at ``at_mm`` along the shaft (degrees; negative: ends towards the bone).

    ``holes``: the two that it lies between, or the one that it lies within.
    """

    at_mm: float
    holes: list[int]
    angle_deg: float


@with_config(CLOSED)
class StretchDocument(TypedDict):
    """A stretch along the shaft, mm from the proximal end of the bone."""

    from_mm: float
    to_mm: float


@with_config(CLOSED)
class OverhangDocument(StretchDocument):
    """A stretch over which a straight plate leaves the bone's edge, and most by how much, mm."""

    over_mm: float


@with_config(CLOSED)
class ContourDocument(TypedDict):
    """How a straight plate is bent to the bone.

    ``stands_off_mm``: how far it would stand off unbent. ``turn_deg`` is the sum of ``bends``, ``bent_deg`` the sum of
    their sizes; ``prebends`` come on top. ``never_through``: the holes, through which it is not bent.
    ``bow_across_mm``: how far the bone bows across the plate's width over its length, which bending up or down does
    not mend.
    """

    stands_off_mm: float
    bends: list[BendDocument]
    turn_deg: float
    bent_deg: float
    prebends: list[PrebendDocument]
    never_through: list[StretchDocument]
    bow_across_mm: float
    leaves_edge: list[OverhangDocument]


@with_config(CLOSED)
class NotWorkedOut(TypedDict):
    """Empty: the mechanics were not asked for."""


@with_config(CLOSED)
class ConstructDocument(TypedDict):
    """One construct's assessment."""

    fragments: list[FragmentDocument]
    bridging_span_mm: float | None
    plate_length_mm: float
    plate_span_ratio: float | None
    screw_density: float
    holes_over_fracture: list[int]
    travel_mm: float
    contour: ContourDocument
    screws: list[ScrewDocument]
    warnings: list[WarningDocument]
    mechanics: MechanicsDocument | NotWorkedOut
    order: list[StepDocument]


@with_config(CLOSED)
class AssessmentDocument(TypedDict):
    """The whole case's assessment."""

    format: Literal["fishplate-assessment/2"]
    constructs: list[ConstructDocument]
    warnings: list[WarningDocument]


def as_document(assessment: Assessment, drawn: Drawn | None = None) -> AssessmentDocument:
    """The assessment in plain values, lengths to 0.1 mm.

    Args:
        assessment: what is told.
        drawn: gives a construct's mechanics over what is not known; without it no bands are told.
    """
    return {
        "format": FORMAT,
        "constructs": [_construct(one, drawn) for one in assessment.constructs],
        "warnings": [_warning(warning) for warning in assessment.warnings],
    }


def schema(which: str) -> dict[str, Any]:
    """JSON Schema (2020-12) of ``case``, ``assessment`` or ``map``."""
    if which == "map":
        return map_schema()
    adapter: TypeAdapter[Any] = TypeAdapter(Case if which == "case" else AssessmentDocument)
    title = CASE_FORMAT if which == "case" else FORMAT
    found = adapter.json_schema()
    if which == "assessment":
        _name_figures(found["$defs"])
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found, "title": title}


def _name_figures(definitions: dict[str, Any]) -> None:
    """Say what each figure is called on the pages."""
    from app.figures import FIGURES  # no first page should wait for the table
    from app.figures.document import MADE_OF, field_of

    for figure in FIGURES.values():
        if figure.document:
            kind, _, field = figure.document.partition(".")
            definitions[kind]["properties"][field]["description"] = f"{figure.full_name}."
    for kind, figures in MADE_OF.items():
        for told in (one for one in figures if field_of(one) in definitions[kind]["properties"]):
            definitions[kind]["properties"][field_of(told)]["description"] = f"{told.full_name}."


def _mm(value: float) -> float:
    return round(value, 1) + 0.0  # no minus before a zero


def _known(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _mechanics(one: ConstructAssessment, drawn: Drawn | None) -> MechanicsDocument | NotWorkedOut:
    if one.mechanics is None:
        return {}
    from app.figures.document import mechanics_document  # no first page should wait for it to load

    return mechanics_document(one.mechanics, () if drawn is None else drawn(one))


def _construct(one: ConstructAssessment, drawn: Drawn | None) -> ConstructDocument:
    summary = one.summary
    return {
        "fragments": [
            {
                "name": fragment.name,
                "screws": fragment.screws,
                "cortices": fragment.cortices,
                "independent_lags": fragment.independent_lags,
                "spread_mm": _mm(fragment.spread_mm),
                "nearest_screw_mm": _known(fragment.nearest_screw_mm),
                "obtuse_at_plate": fragment.obtuse_at_plate,
            }
            for fragment in summary.fragments
        ],
        "bridging_span_mm": _known(summary.bridging_span_mm),
        "plate_length_mm": _mm(summary.plate_length_mm),
        "plate_span_ratio": _known(summary.plate_span_ratio),
        "screw_density": round(summary.screw_density, 2),
        "holes_over_fracture": list(summary.holes_over_fracture),
        "travel_mm": _mm(summary.travel_mm),
        "contour": _contour(contour_of(one.layout)),
        "screws": [_screw(screw) for screw in one.layout.screws],
        "warnings": [_warning(warning) for warning in one.warnings],
        "mechanics": _mechanics(one, drawn),
        "order": order_document(plan(one.layout)),
    }


def _contour(contour: Contour) -> ContourDocument:
    return {
        "stands_off_mm": _mm(contour.stands_off_mm),
        "bends": [{"holes": bend.holes, "angle_deg": _mm(bend.angle_deg)} for bend in contour.bends],
        "turn_deg": _mm(contour.turn_deg),
        "bent_deg": _mm(contour.bent_deg),
        "prebends": [
            {"at_mm": _mm(bend.s_mm), "holes": list(bend.holes), "angle_deg": _mm(bend.angle_deg)}
            for bend in contour.prebends
        ],
        "never_through": [{"from_mm": _mm(start), "to_mm": _mm(end)} for start, end in contour.shut],
        "bow_across_mm": _mm(contour.across.bow_mm),
        "leaves_edge": [
            {"from_mm": _mm(one.start_mm), "to_mm": _mm(one.end_mm), "over_mm": _mm(one.over_mm)}
            for one in contour.across.overhangs
        ],
    }


def _screw(screw: ScrewPath) -> ScrewDocument:
    return {
        "id": screw.id,
        "role": screw.role,
        "lean_deg": _mm(screw.lean_deg),
        "turn_deg": _mm(screw.turn_deg),
        "cortices": [(passage.cortex, passage.owner) for passage in screw.passages],
        "length_mm": _mm(screw.length_mm),
        "stock_length_mm": screw.stock_length_mm,
        "crosses_fracture": screw.crosses_fracture,
        "angle_to_fracture_normal_deg": _known(screw.angle_to_normal_deg),
    }


def _warning(warning: Warning) -> WarningDocument:
    remedy = warning.remedy
    return {
        "rule": warning.rule,
        "level": warning.level,
        "subject": list(warning.subject),
        "message": warning.message,
        "why": warning.why,
        "source": warning.source,
        "remedy": None if remedy is None else {"label": remedy.label, "edit": edit_document(remedy.edit)},
        "acknowledged": warning.acknowledged,
        "unmended": warning.unmended,
    }
