"""The sketch page's parts, made from an assessment: the drawing and the panels around it."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Literal

from markupsafe import Markup
from pydantic import BaseModel, ConfigDict, Field

from app.assess import Assessment, ConstructAssessment
from app.case.edits import AddConstruct, RemoveConstruct, SetNote, SetTitle
from app.case.forms import lacking
from app.case.models import MAX_CONSTRUCTS
from app.drawing import Room, View, draw_sketch
from app.store import Snapshot
from app.web.panels.controls import Choice, Option
from app.web.panels.guarded import guarded
from app.web.panels.loading import Loads, query_of
from app.web.panels.warnings import WarningRow, WarningsView, warnings_view
from app.web.state import ServerState
from app.web.templates import as_json

if TYPE_CHECKING:
    from app.web.panels.screws import HoleRow, ScrewsView
    from app.web.panels.setup import SetupPart

LivePanel = Literal["readings", "summary", "warnings", "mechanics"]
LIVE: frozenset[LivePanel] = frozenset({"readings", "summary", "warnings", "mechanics"})


class Panels(BaseModel):
    """Parts of the page as HTML; null: as it was, or not asked for."""

    readings: str | None = None
    summary: str | None = None
    warnings: str | None = None
    mechanics: str | None = None
    screws: str | None = None
    order: str | None = None
    setup: str | None = None
    head: str | None = None


class Redraw(BaseModel):
    """What changes on the page after an edit, or would change."""

    model_config = ConfigDict(validate_by_name=True, validate_by_alias=True)

    seq: int = Field(description="The number that the request carried.")
    version: int = Field(description="The stored version that this was made on; its ETag.")
    shown: int = Field(alias="construct", description="The construct drawn.")
    drawing: str = Field(description="The drawing as SVG.")
    panels: Panels
    status: str = Field(description="One sentence: what was done, which warnings came and went.")
    reached: float | None = Field(
        default=None, description="How far the edit goes that could not go as far as was wanted; null: all the way."
    )


@dataclass(frozen=True, slots=True)
class Look:
    """What of the case is looked at, and where: which construct, the window along the shaft, and the loads.

    ``view`` is in mm (None: fitted), ``room`` the screen's room for the drawing (None: not known).
    """

    construct: int
    view: tuple[float, float] | None = None
    loads: Loads = ()
    room: Room | None = None

    def on(self, assessment: Assessment) -> ConstructAssessment:
        """The construct looked at; the last one if there are fewer by now."""
        return assessment.constructs[min(self.construct, len(assessment.constructs) - 1)]


def drawing(state: ServerState, one: ConstructAssessment, look: Look) -> str:
    """The interactive drawing."""
    view = None if look.view is None else View(*look.view)
    bold = look.room or 1.0
    return guarded(
        state.pages, "drawing", lambda: draw_sketch(one, view=view, theme="page", interactive=True, bold=bold)
    )


def warnings_html(state: ServerState, view: WarningsView) -> str:
    """The list of warnings; from one move of a drag to the next, most of them say the same."""

    def item(row: WarningRow) -> Markup:
        warning = row.warning
        remedy = warning.remedy and (warning.remedy.label, as_json(warning.remedy.edit))
        change = row.change and as_json(row.change)
        told = (
            *(warning.rule, warning.level, warning.subject, warning.message, warning.why, warning.source, remedy),
            *(change, row.pending),
        )
        return Markup(state.warnings.get(told, lambda: state.pages.html("_warning.html", row=row, warning=warning)))

    return state.pages.html(
        "_warnings.html",
        warnings=[row.warning for row in view.open],
        items=[item(row) for row in view.open],
        noted=[item(row) for row in view.noted],
    )


def live_panels(
    state: ServerState,
    assessment: Assessment,
    look: Look,
    before: Assessment | None = None,
    earlier: Assessment | None = None,
    wanted: Collection[LivePanel] = LIVE,
) -> Panels:
    """The panels that follow a drag; tables of screws and steps wait for its end, since nobody can read them meanwhile.

    ``before`` is given when a screw was left out, to show what that cost; ``earlier``, the state before any edit, is
    what the mechanics are compared with; ``wanted`` are the panels to make.
    """
    from app.web.panels import contents  # no first page should wait for it to load

    one = look.on(assessment)
    old = None if before is None else look.on(before)
    page = state.pages
    stood = None if earlier is None or one.target >= len(earlier.constructs) else earlier.constructs[one.target]
    made: dict[str, Callable[[], str]] = {
        "readings": lambda: page.html(
            "_readings.html", readings=contents.readings_view(assessment, one, state.knowledge, stood)
        ),
        "summary": lambda: page.html(
            "_summary.html", summary=contents.summary_view(one, old), columns=contents.FRAGMENT_COLUMNS
        ),
        "warnings": lambda: warnings_html(state, warnings_view(assessment, one)),
        "mechanics": lambda: page.html(
            "_mechanics.html", mechanics=contents.mechanics_view(one, look.loads, state.knowledge, stood)
        ),
    }
    return Panels(**{name: guarded(page, name, make) for name, make in made.items() if name in wanted})


def all_panels(
    state: ServerState,
    snapshot: Snapshot,
    assessment: Assessment,
    look: Look,
    before: Assessment | None = None,
    earlier: Assessment | None = None,
) -> Panels:
    """Every panel, for a page or after a write."""
    from app.web.panels import contents  # as above

    one, page = look.on(assessment), state.pages
    rest: dict[str, Callable[[], str]] = {
        "screws": lambda: screws_html(state, contents.screws_view(assessment, one, state.knowledge)),
        "order": lambda: page.html("_order.html", order=contents.order_view(one)),
        "setup": lambda: setup_html(state, assessment, one),
        "head": lambda: page.html(
            "_head.html",
            snapshot=snapshot,
            case=snapshot.case,
            current=one.target,
            verdicts=contents.verdicts(assessment, one.target),
            forms={"title": lacking(SetTitle, "title"), "note": lacking(SetNote, "note")},
            remove=RemoveConstruct(target=one.target),
            add=add_bone_html(state, assessment),
            loading=query_of(look.loads),
        ),
    }
    made = {name: guarded(page, name, make) for name, make in rest.items()}
    return live_panels(state, assessment, look, before, earlier).model_copy(update=made)


def setup_html(state: ServerState, assessment: Assessment, one: ConstructAssessment) -> str:
    """The set-up panel; from one edit to the next, most of it stays as it was."""
    from app.web.panels import contents  # as above

    return "".join(
        state.parts.get(part.depends, partial(_made, state, part))
        for part in contents.setup_parts(assessment, one, state.knowledge)
    )


def more_lags_found(state: ServerState, assessment: Assessment, one: ConstructAssessment) -> tuple[str, str]:
    """What the search for a place for one more lag screw finds: as a sentence, and as the line of the screws panel."""
    from app.web.panels import contents  # as above

    more = contents.more_lags(assessment, one, state.knowledge)
    return more.told, state.pages.html("_more_lags.html", more=more, target=one.target)


def _made(state: ServerState, part: "SetupPart") -> str:
    return state.pages.html("_setup.html", groups=part.make())


def screws_html(state: ServerState, screws: "ScrewsView") -> str:
    """The screws panel; from one edit to the next, most holes stay as they were."""

    def row(hole: "HoleRow") -> Markup:
        return Markup(state.parts.get(hole, lambda: state.pages.html("_screw_row.html", row=hole)))

    return state.pages.html("_screws.html", screws=screws, rows=[row(hole) for hole in screws.holes])


def add_bone_html(state: ServerState, assessment: Assessment) -> Markup | None:
    """The choice that adds a construct, the same as long as the server runs; None when the case is full."""
    if len(assessment.constructs) >= MAX_CONSTRUCTS:
        return None
    return Markup(state.parts.get("add a bone", lambda: state.pages.html("_add_bone.html", add=_add_bone(state))))


def _add_bone(state: ServerState) -> Choice:
    from app.web.panels import contents  # as above

    bones = tuple(
        Option(name, spec.label, AddConstruct(value=contents.blank_construct(name, state.knowledge)), brief=True)
        for name, spec in state.knowledge.catalogue.bones.items()
    )
    return Choice("bone-add", "Add a bone", "", (Option("", "Add a bone …", None), *bones))
