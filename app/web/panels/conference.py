"""What the conference view shows: one whole picture for those who stand far off, and the words beside it."""

from dataclasses import dataclass, replace

from pydantic import BaseModel, ConfigDict, Field

from app.assess import ConstructAssessment
from app.case import parse_edit
from app.drawing import draw_sketch, draw_state
from app.order import plan, states
from app.order.corrections import open_words
from app.rules import LEVELS, left_open
from app.store import Snapshot
from app.web.panels.preview import TriedEdit, tried
from app.web.panels.variants import NOW, Variant, variant
from app.web.panels.warnings import warnings_of
from app.web.state import ServerState

BOLD = 1.6  # as large as text gets before numbers of neighbouring holes touch
FIGURES = ("bridging-span", "plate-span-ratio", "screw-density", "travel", "lag-angle")
SHORT = {"bridging-span": "Bridging span"}  # with its other name it would take two of the few lines


class Picture(BaseModel):
    """A whole state: nothing of it is older or newer than the rest."""

    model_config = ConfigDict(validate_by_name=True, validate_by_alias=True)

    version: int = Field(description="The stored version shown, or on which the edit shown is being tried.")
    target: int = Field(alias="construct")  # BaseModel has a method of that name
    variant: str
    label: str = Field(description="The variant's name.")
    step: int = Field(description="The step of the order that is shown; 0: all steps done.")
    steps: int = Field(description="How many steps there are.")
    tried: bool = Field(description="Whether an edit is shown that is not made yet.")
    title: str
    bones: list[str] = Field(description="The bones of the case, in their order.")
    drawing: str = Field(description="The drawing as SVG.")
    words: str = Field(description="Step, figures and warnings as HTML.")


@dataclass(frozen=True, slots=True)
class Scene:
    """What is asked for. ``version`` and ``edit`` (JSON) say what is being tried; an edit on another version is not.

    ``times`` is how much larger than true the movements of a step are drawn.
    """

    construct: int = 0
    variant: str = NOW
    step: int = 0
    version: int | None = None
    edit: dict[str, object] | None = None
    times: int = 1


def picture(state: ServerState, snapshot: Snapshot, scene: Scene) -> Picture:
    """The picture of a scene, on the stored case if the edit is none of the stored version's.

    Raises:
        NotFound: no such what-if.
        InvalidCase: the edit can't be made.
        HTTPException: 404, no such bone.
    """
    from app.web.panels.summary import summary_view  # here and below: no first page should wait for it to load

    trying = scene.edit is not None and scene.variant == NOW and scene.version == snapshot.version
    shown = variant(state, snapshot, scene.construct, scene.variant)
    assessment = tried(state, snapshot, TriedEdit.of(parse_edit(scene.edit))) if trying else state.assessed(snapshot)
    now = assessment.constructs[min(scene.construct, len(assessment.constructs) - 1)]
    one = now if scene.variant == NOW else shown.one
    steps = plan(one.layout)
    step = min(scene.step, len(steps))
    warnings = left_open(warnings_of(assessment, one) if scene.variant == NOW else one.warnings)
    figures = [
        replace(figure, label=SHORT.get(figure.id, figure.label))
        for figure in summary_view(one).whole
        if figure.id in FIGURES
    ]
    words = state.pages.html(
        "_conference.html",
        step=steps[step - 1] if step else None,
        open=open_words(steps[step - 1].lines) if step else "",
        said=states(one.layout)[step - 1].sentence if step else "",
        steps=len(steps),
        figures=figures,
        warnings=sorted(warnings, key=lambda one: LEVELS.index(one.level)),
    )
    return Picture(
        version=snapshot.version,
        target=scene.construct,
        variant=scene.variant,
        label=shown.label,
        step=step,
        steps=len(steps),
        tried=trying,
        title=assessment.case.title,
        bones=[construct.bone.title for construct in assessment.case.constructs],
        drawing=_drawing(state, snapshot, shown, one, step, scene.times),
        words=words,
    )


def _drawing(
    state: ServerState, snapshot: Snapshot, shown: Variant, one: ConstructAssessment, step: int, times: int
) -> str:
    """On one window for the stored construct and the variant, so that nothing jumps when switching or dragging."""
    from app.compare import common_view

    stored = state.assessed(snapshot).constructs[shown.one.target]
    view = common_view((Variant(NOW, "", stored).column, shown.column))
    if not step:
        return draw_sketch(one, view=view, interactive=False, charted=False, bold=BOLD)
    return draw_state(one, states(one.layout)[step - 1], view=view, times=times, roomy=False, bold=BOLD)
