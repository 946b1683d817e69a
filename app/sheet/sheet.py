"""Assessment to PDF. Everything a user has written goes to the typesetter as data, never as markup."""

import json
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import typst

from app.drawing.layout_map import draw_layout_map
from app.order import bone_order, tool_list
from app.rules import left_open, put_away
from app.sheet.fallback import fallback_rows
from app.sheet.figure import Figure, Tile, bend_rows, bending_template, overview, sign_rows, tiles, true_size
from app.sheet.tables import hole_rows, order_rows, tool_rows, warning_rows
from app.sheet.theatre import before_rows, check_rows
from app.sheet.words import CAUTION, breakable, figures, heading, mechanics_words, plate_line, shortened, template_words
from app.shipped import typefaces

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.assess import Assessment, ConstructAssessment, Drawn
    from app.catalogue import Catalogue
    from app.map_picture import SmallMap

Paper = Literal["a4", "letter"]
PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
SIDES_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN_MM = 10.0
AROUND_MM = 60.0  # margins, a heading of two lines, the check bar and the footer of a true-size page
BEND_WORDS_MM = 10.0  # the words over the bending template
HERE = Path(__file__).parent


def plan_sheet(
    assessment: "Assessment",
    catalogue: "Catalogue",
    *,
    paper: Paper = "a4",
    drawn: "Drawn | None" = None,
    mapped: "Callable[[int], SmallMap | None] | None" = None,
) -> bytes:
    """Set the plan of a case as a PDF.

    In the order of fixing, each construct has a plan page and its drawing at true size (more pages where the plate is
    longer than the paper), followed by what is verified in theatre and what to do if it goes wrong, on the same page if
    there is room; a case of several constructs ends with a page for all of them. The same assessment gives the same
    bytes. ``catalogue`` is the stock from which something else is taken if it goes wrong; ``drawn`` gives a construct's
    mechanics over what is not known, for the bands of its figures; ``mapped`` gives the map of layouts of the construct
    at an index, which follows what is verified in theatre.

    Raises:
        KeyError: no such paper.
    """
    layouts = tuple(one.layout for one in assessment.constructs)
    turns = [assessment.constructs[index] for index in bone_order(layouts)]
    sheets = [
        _construct_data(one, catalogue, place, len(turns), paper, drawn) | _map_data(one, mapped)
        for place, one in enumerate(turns, start=1)
    ]
    data = {
        "paper": PAPERS[paper],
        "margin": MARGIN_MM,
        "title": breakable(assessment.case.title),
        "quality": catalogue.qualities[assessment.case.bone_quality].label,
        "note": shortened(assessment.case.note),
        "sheets": sheets,
        "all": None if len(turns) == 1 else _case_data(assessment, turns),
        "caution": CAUTION,
    }
    return _typeset(data)


def _construct_data(
    one: "ConstructAssessment", catalogue: "Catalogue", place: int, count: int, paper: Paper, drawn: "Drawn | None"
) -> dict[str, Any]:
    return {
        "heading": heading(one),
        "place": "" if count == 1 else f"Bone {place} of {count}",
        "plate": plate_line(one),
        "figures": figures(one),
        "mechanics": mechanics_words(one, () if drawn is None else drawn(one)),
        "drawing": overview(one).as_data(),
        "signs": sign_rows(one),
        "true": _true_data(one, paper),
        "holes": hole_rows(one.layout),
        "order": order_rows(one.layout),
        "own_order": one.construct.order is not None,
        "tools": tool_rows(tool_list((one.layout,))),
        "warnings": warning_rows(left_open(one.warnings)),
        "noted": warning_rows(put_away(one.warnings)),
        "before": before_rows(one),
        "checks": check_rows(one.layout),
        "fallback": fallback_rows(one.layout, catalogue),
    }


def _true_data(one: "ConstructAssessment", paper: Paper) -> dict[str, Any]:
    actual, bent = true_size(one), bend_rows(one)
    template = bending_template(one, bent, actual) if bent else None
    high = actual.height_mm + (0.0 if template is None else template.height_mm + BEND_WORDS_MM)
    flipped, parts = lay_tiles(replace(actual, height_mm=high), paper)
    return {
        **actual.as_data(),
        "template": None if template is None else template.as_data(),
        "bend": template_words(bent),
        "flipped": flipped,
        "tiles": [{"start": part.start_mm, "width": part.width_mm, "joins": list(part.joins_mm)} for part in parts],
    }


def _map_data(one: "ConstructAssessment", mapped: "Callable[[int], SmallMap | None] | None") -> dict[str, Any]:
    found = None if mapped is None else mapped(one.target)
    if found is None:
        return {"map": None}
    return {"map": {"svg": draw_layout_map(found.picture, printed=True), "sentences": list(found.sentences)}}


def lay_tiles(actual: Figure, paper: Paper) -> tuple[bool, tuple[Tile, ...]]:
    """Whether the true-size pages lie on their side, and the drawing's parts: as few as possible, upright if equal."""
    short, long = SIDES_MM[paper]
    upright = tiles(actual.width_mm, short - 2 * MARGIN_MM)
    lying = tiles(actual.width_mm, long - 2 * MARGIN_MM)
    too_high = actual.height_mm > short - AROUND_MM
    return (False, upright) if too_high or len(upright) <= len(lying) else (True, lying)


def _case_data(assessment: "Assessment", turns: "list[ConstructAssessment]") -> dict[str, Any]:
    return {
        "order": [f"{heading(one)}: {plate_line(one)}." for one in turns],
        "tools": tool_rows(tool_list(tuple(one.layout for one in turns))),
        "warnings": warning_rows(left_open(assessment.warnings)),
        "noted": warning_rows(put_away(assessment.warnings)),
    }


@lru_cache(maxsize=2)
def _fonts(system: bool) -> typst.Fonts:
    return typst.Fonts(include_system_fonts=system, include_embedded_fonts=True, font_paths=[typefaces()])


def _typeset(data: dict[str, Any]) -> bytes:
    """Set the template with the shipped fonts only, so that the sheet looks the same everywhere.

    An accessible PDF (PDF/UA-1) may hold no character without a glyph. Where a title is in a script that the shipped
    fonts lack, the machine's own fonts help out, and that standard is not claimed.
    """
    try:
        return _compile(data, system=False, standard="ua-1")
    except typst.TypstError:
        return _compile(data, system=True, standard=None)


def _compile(data: dict[str, Any], *, system: bool, standard: Literal["ua-1"] | None) -> bytes:
    made = typst.Compiler(
        input=str(HERE / "sheet.typ"),
        root=str(HERE),
        font_paths=_fonts(system),
        ignore_system_fonts=not system,
        sys_inputs={"data": json.dumps(data)},
    ).compile(format="pdf", pdf_standards=standard or [])
    if not isinstance(made, bytes):
        message = f"the typesetter gave {type(made).__name__}, not a PDF"
        raise TypeError(message)
    return made
