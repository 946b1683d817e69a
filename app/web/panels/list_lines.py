"""The user's own cases as the list shows them."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from app.case.models import bone_title
from app.store import ListedBone, Listing, Page, Sort

SORT_WORDS: dict[Sort, str] = {"newest": "Last changed first", "title": "By title", "bone": "By bone"}


@dataclass(frozen=True, slots=True)
class ShownLine:
    """One case: its title, its bones in words, and when it was changed last (UTC)."""

    id: str
    title: str
    version: int
    updated_at: datetime
    bones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShownPage:
    """A page of the list, what was asked for, and the addresses of the pages beside it (None: there is none)."""

    words: str
    sort: Sort
    total: int
    lines: tuple[ShownLine, ...]
    before: str | None
    after: str | None


def address_of_list(words: str, sort: Sort, **place: str) -> str:
    """The address of a page of the list, without what is as usual."""
    asked = {**({"q": words} if words else {}), **({"sort": sort} if sort != "newest" else {}), **place}
    return f"/?{urlencode(asked)}" if asked else "/"


def shown_page(page: Page, words: str, sort: Sort) -> ShownPage:
    """What the page of the list shows."""
    before = None if page.before is None else address_of_list(words, sort, before=page.before)
    after = None if page.after is None else address_of_list(words, sort, after=page.after)
    return ShownPage(words, sort, page.total, tuple(map(_line, page.lines)), before, after)


def _line(one: Listing) -> ShownLine:
    return ShownLine(one.id, one.title, one.version, one.updated_at, tuple(_bones(one.bones)))


def _bones(bones: tuple[ListedBone, ...]) -> Iterator[str]:
    for one in bones:
        yield f"{bone_title(one.bone, one.side)}{f' {one.code}' if one.code else ''}, {one.principle}"
