"""The small pictures of cases in the list."""

import logging

from app.assess import assess_stored
from app.drawing import draw_thumbnail
from app.store import Unreadable
from app.web.state import ServerState

# A case that can't be shown has none; its line says what there is.
NOTHING = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 26"/>'

log = logging.getLogger(__name__)


def small_picture(state: ServerState, case_id: str) -> tuple[str, int | None]:
    """The picture of a case's first bone as an SVG file, and the version that it shows (None: it can't be shown).

    Raises:
        NotFound: no such case.
    """
    try:
        snapshot = state.store.get(case_id)
    except Unreadable:
        return NOTHING, None

    def made() -> str:
        first = snapshot.case.model_copy(update={"constructs": snapshot.case.constructs[:1]})
        judged = assess_stored(first, state.knowledge, mechanics=False, remedies=False)
        return draw_thumbnail(judged.constructs[0], "page", alone=True)

    try:
        # By what it shows, not by version: most edits of a case leave its bone, or come back to it.
        return state.small.get(
            f"{snapshot.case.bone_quality} {snapshot.case.constructs[0].model_dump_json()}", made
        ), snapshot.version
    except Exception:
        log.exception("case %s can't be shown small", case_id)
        return NOTHING, None
