"""Parts of a page that fail are left out, so that the page opens without them and can still be undone and exported.

Nothing here should ever be needed: what is accepted can be shown, and tests hold the program to it. But a surgeon in a
hurry is better served by a page with one panel missing than by none.
"""

import logging
from collections.abc import Callable

from app.web.templates import Pages

log = logging.getLogger(__name__)

NAMES = {
    "readings": "What is at hand",
    "summary": "The construct summary",
    "warnings": "The list of warnings",
    "mechanics": "The mechanics panel",
    "screws": "The table of screws",
    "order": "The order",
    "setup": "The set-up",
    "head": "The title line",
    "drawing": "The drawing",
}


def guarded(pages: Pages, part: str, make: Callable[[], str]) -> str:
    """What ``make`` makes, or in its place a sentence with the ways on: undo, and the case as a file."""
    try:
        return make()
    except Exception:
        log.exception("%s of a case can't be shown", NAMES[part])
        template = "_no_drawing.html" if part == "drawing" else "_left_out.html"
        return pages.html(template, part=part, what=NAMES[part]).strip()
