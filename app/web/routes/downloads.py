"""In and out: the case file, drawings as SVG and PNG, the whole library as one zip."""

from typing import Annotated

from fastapi import APIRouter, File, Query, Response, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse

from app.case import InvalidCase
from app.drawing import draw_sketch, with_typeface
from app.store import Snapshot
from app.store.content import file_bytes, file_name
from app.web.http.headers import drawing_policy
from app.web.http.parameters import CaseId, ConstructInQuery, construct_at
from app.web.panels.small_picture import small_picture
from app.web.state import ServerState, StateDep

SVG, PNG, ZIP = "image/svg+xml", "image/png", "application/zip"
LEAST_PX, USUAL_PX, MOST_PX = 100, 1600, 4000

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
Width = Annotated[int, Query(ge=LEAST_PX, le=MOST_PX)]


def _attached(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"'}


def _named(snapshot: Snapshot, ending: str) -> dict[str, str]:
    name = file_name(snapshot.case.title, snapshot.id).removesuffix(".json")
    return _attached(f"{name}.{ending}")


def _drawing(state: ServerState, snapshot: Snapshot, construct: int) -> str:
    one = construct_at(state.assessed(snapshot).constructs, construct)
    return draw_sketch(one, theme="light", interactive=False)


@router.get("/cases/{case_id}/export")
def export(case_id: CaseId, state: StateDep) -> Response:
    """The case file, what-ifs included."""
    snapshot, case = state.store.whole(case_id)
    return Response(file_bytes(case), media_type="application/json", headers=_named(snapshot, "json"))


@router.get("/cases/{case_id}/drawing.svg")
def drawing_file(case_id: CaseId, state: StateDep, construct: ConstructInQuery = 0) -> Response:
    """One construct's drawing as a file that stands alone."""
    snapshot = state.store.get(case_id)
    svg = with_typeface(_drawing(state, snapshot, construct))
    headers = {"Content-Security-Policy": drawing_policy(svg), **_named(snapshot, "svg")}
    return Response(svg, media_type=SVG, headers=headers)


@router.get("/cases/{case_id}/thumbnail.svg")
def thumbnail_file(case_id: CaseId, state: StateDep, version: Annotated[int, Query(ge=1, le=2**53)]) -> Response:
    """The small picture of a case's first bone, for lists; an address names one version, so a browser may keep it."""
    svg, shown = small_picture(state, case_id)
    kept = "private, max-age=604800, immutable" if shown == version else "no-cache"
    headers = {"Content-Security-Policy": drawing_policy(svg), "Cache-Control": kept}
    return Response(svg, media_type=SVG, headers=headers)


@router.get("/cases/{case_id}/drawing.png")
def picture_file(
    case_id: CaseId, state: StateDep, construct: ConstructInQuery = 0, width: Width = USUAL_PX
) -> Response:
    """One construct's drawing as a picture."""
    from app.exchange import drawing_png  # what is in ``app.exchange`` loads when it is asked for, not at each start

    snapshot = state.store.get(case_id)
    png = drawing_png(_drawing(state, snapshot, construct), width)
    return Response(png, media_type=PNG, headers=_named(snapshot, "png"))


@router.get("/library.zip")
def library(state: StateDep, history: bool = False) -> Response:
    """Every case's file in one zip, and on request the history of each."""
    from app.exchange import library_zip

    return Response(
        library_zip(state.store, history=history), media_type=ZIP, headers=_attached("fishplate-library.zip")
    )


@router.post("/import")
def take_in(file: Annotated[UploadFile, File()], state: StateDep) -> Response:
    """Keep a case file and open it, or keep the cases of a zip and tell what became of each."""
    from app.exchange import import_upload
    from app.exchange.archive import is_zip

    data = file.file.read()
    report = import_upload(state.store, state.knowledge.catalogue, file.filename or "the file", data)
    if not is_zip(data):
        if report.faults:
            raise InvalidCase(report.faults[0].faults)
        (kept,) = report.created or report.known
        return RedirectResponse(f"/cases/{kept.document_id}", 303)
    status = 200 if report.created or report.known else 422
    return HTMLResponse(state.pages.html("import.html", report=report), status)
