"""What the list of cases says of each: its words to be found and sorted by, and the SQL of one page of it.

The table ``listed`` holds a row for each document, written with every move of its head. A change to what stands in it
needs a migration that fills it anew.
"""

import base64
import json
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Literal, get_args

from sqlalchemy import ColumnElement, Connection, Select, and_, func, insert, or_, select, update

from app.case import Case
from app.case.plain_text import CONTROL
from app.store.errors import BadPlace
from app.store.records import ListedBone, Listing, Page
from app.store.tables import document, listed

Sort = Literal["newest", "title", "bone"]
SORTS: tuple[Sort, ...] = get_args(Sort)
MOST_WORDS = 12  # each is looked for by itself
KEY_LENGTH = 240  # bytes of a title that it is sorted by


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which cases, in which order, and where the page begins.

    ``words``: all of them are to be in title, bone, side, code or principle. ``after`` and ``before`` are places that
    an earlier page named: the page begins after the one, or ends before the other.
    """

    words: str = ""
    sort: Sort = "newest"
    after: str | None = None
    before: str | None = None


def folded(text: str) -> str:
    """The text as it is looked for: in small letters, without accents and what isn't seen."""
    plain = unicodedata.normalize("NFKD", CONTROL.sub(" ", text).casefold())
    return "".join(one for one in plain if not unicodedata.combining(one))


def row_of(title: str, bones: Iterable[ListedBone]) -> dict[str, Any]:
    """The row of a document but for its id."""
    told = tuple(bones)
    words = [title, *(" ".join(filter(None, (one.side, one.bone, one.code, one.principle))) for one in told)]
    by_bone = ",".join(f"{one.bone} {one.side or ''}" for one in told)
    return {
        "title": title,
        "bones": json.dumps([[one.bone, one.side, one.code, one.principle] for one in told]),
        "sought": "\n".join(map(folded, words)),
        "title_key": folded(title).encode()[:KEY_LENGTH],
        "bone_key": by_bone.encode(),
    }


def bones_of(case: Case) -> tuple[ListedBone, ...]:
    """What the list says of each bone of a case."""
    return tuple(ListedBone(one.bone.name, one.bone.side, one.fracture.code, one.principle) for one in case.constructs)


def add(connection: Connection, document_id: str, case: Case) -> None:
    """List a new document."""
    connection.execute(insert(listed), {"document_id": document_id, **row_of(case.title, bones_of(case))})


def change(connection: Connection, document_id: str, case: Case, before: Case | None = None) -> None:
    """List a document as it stands now; most edits leave what is listed as it was ``before``, where that is known."""
    if before is not None and (before.title, bones_of(before)) == (case.title, bones_of(case)):
        return
    row = row_of(case.title, bones_of(case))
    connection.execute(update(listed).where(listed.c.document_id == document_id).values(**row))


_LINE = select(
    document.c.id, listed.c.title, document.c.version, document.c.updated_at, listed.c.bones
).join_from(document, listed)  # fmt: skip


def everything(connection: Connection) -> tuple[Listing, ...]:
    """All documents, last changed first."""
    return tuple(_line(row) for row in connection.execute(_LINE.order_by(document.c.updated_at.desc(), document.c.id)))


def page(connection: Connection, wanted: Wanted, limit: int) -> Page:
    """One page of the list. A place is a document's own, not a count: edits elsewhere move no line across it.

    Raises:
        BadPlace: ``after`` or ``before`` is none that a page in this order named.
    """
    filters = [listed.c.sought.contains(word, autoescape=True) for word in folded(wanted.words).split()[:MOST_WORDS]]
    matching = _LINE.where(*filters)
    back = wanted.before is not None and wanted.after is None
    place = wanted.before if back else wanted.after
    asked = matching if place is None else matching.where(_beyond(wanted.sort, _place(wanted.sort, place), back))
    rows = connection.execute(_ordered(asked, wanted.sort, back).limit(limit + 1)).all()
    more, rows = len(rows) > limit, rows[:limit]
    total: int = connection.execute(select(func.count()).select_from(listed).where(*filters)).scalar_one()
    shown = rows[::-1] if back else rows
    first = _named(wanted.sort, shown[0]) if shown and (more if back else place is not None) else None
    last = _named(wanted.sort, shown[-1]) if shown and (back or more) else None
    return Page(tuple(_line(row) for row in shown), total, first, last)


def _line(row: Any) -> Listing:
    document_id, title, version, updated_at, bones, *_ = row
    return Listing(document_id, title, version, updated_at, _bones_in(bones))


@lru_cache(maxsize=4096)  # a department's cases are of few kinds
def _bones_in(text: str) -> tuple[ListedBone, ...]:
    return tuple(ListedBone(*one) for one in json.loads(text))


def _keys(sort: Sort) -> tuple[tuple[Any, ...], bool]:
    """What is sorted by before the id, and whether the largest comes first."""
    if sort == "newest":
        return (document.c.updated_at,), True
    return (listed.c.title_key,) if sort == "title" else (listed.c.bone_key, listed.c.title_key), False


def _ordered(query: Select[Any], sort: Sort, back: bool) -> Select[Any]:
    keys, falling = _keys(sort)
    by = [key.desc() if falling != back else key.asc() for key in keys]
    if sort != "newest":  # what a place is named by, unless the line says it anyway
        query = query.add_columns(*keys)
    return query.order_by(*by, document.c.id.desc() if back else document.c.id.asc())


def _beyond(sort: Sort, place: tuple[Any, ...], back: bool) -> ColumnElement[bool]:
    """Lines after the place, or before it."""
    keys, falling = _keys(sort)
    columns = [*((key, falling != back) for key in keys), (document.c.id, back)]
    ways = []
    for at, (column, less) in enumerate(columns):
        same = [earlier == value for (earlier, _), value in zip(columns[:at], place, strict=False)]
        ways.append(and_(*same, column < place[at] if less else column > place[at]))
    return or_(*ways)


def _named(sort: Sort, row: Any) -> str:
    """The place of a line, as an address can carry it."""
    if sort == "newest":
        keys = [row.updated_at.astimezone(UTC).isoformat()]
    else:
        found = (row.title_key,) if sort == "title" else (row.bone_key, row.title_key)
        keys = [bytes(key).hex() for key in found]
    text = json.dumps([sort, *keys, row.id], separators=(",", ":"))
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def _place(sort: Sort, named: str) -> tuple[Any, ...]:
    try:
        told, *keys, document_id = json.loads(base64.urlsafe_b64decode(named + "=" * (-len(named) % 4)))
        if told != sort or len(keys) != len(_keys(sort)[0]) or CONTROL.search(document_id):
            raise BadPlace
        if sort == "newest":
            return (datetime.fromisoformat(keys[0]).astimezone(UTC), document_id)
        return (*(bytes.fromhex(key) for key in keys), document_id)
    except (ValueError, TypeError, OverflowError) as error:
        raise BadPlace from error
