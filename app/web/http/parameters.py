"""What addresses and bodies name in common, with the limits of the models: cases, constructs, windows."""

import re
from collections.abc import Sequence
from typing import Annotated, TypeVar

from fastapi import Cookie, Depends, HTTPException, Path, Query
from pydantic import Field, FiniteFloat

from app.case.models import MAX_CONSTRUCTS
from app.drawing.scale import LEAST_ROOM_PX, MOST_MM, MOST_ROOM_PX, Room

Of = TypeVar("Of")

CASE_ID = "[A-Za-z0-9_-]+"
CaseId = Annotated[str, Path(min_length=1, max_length=64, pattern=f"^{CASE_ID}$", description="The case's id.")]
ConstructIndex = Annotated[int, Field(ge=0, le=MAX_CONSTRUCTS - 1, description="Which bone of the case, from 0.")]
# An address may ask for what no case has: that isn't found, whether this case has fewer bones or any would.
ConstructInAddress = Annotated[int, Field(ge=0, le=63, description="Which bone of the case, from 0.")]
ConstructInQuery = Annotated[int, Query(ge=0, le=63, description="Which bone of the case, from 0.")]
Pixels = Annotated[FiniteFloat, Field(ge=LEAST_ROOM_PX, le=MOST_ROOM_PX)]
Millimetres = Annotated[FiniteFloat, Field(ge=-MOST_MM, le=MOST_MM)]

PlaceInList = Annotated[
    str, Query(max_length=2000, pattern="^[A-Za-z0-9_-]+$", description="Where a page begins; an earlier one named it.")
]
WordsSought = Annotated[
    str, Query(max_length=200, description="Words that all are in title, bone, side, code or principle.")
]

ROOM = r"[0-9]{1,5}(\.[0-9]{1,2})?,[0-9]{1,5}(\.[0-9]{1,2})?"


def room_of(text: str | None) -> Room | None:
    """The screen's room for the drawing from ``width,height`` in CSS pixels; None where there is none, or nonsense."""
    if text is None or not re.fullmatch(ROOM, text):
        return None
    width, height = text.split(",")
    try:
        return Room(float(width), float(height))
    except ValueError:
        return None


def _told_room(told: Annotated[str | None, Cookie(alias="fishplate-room")] = None) -> Room | None:
    return None if told is None else room_of(",".join(told.split(",")[:2]))  # the rest is the page's own


# What the page told last: so the first drawing fits as well, and nothing jumps when the scripts have come.
RoomDep = Annotated[Room | None, Depends(_told_room)]


def construct_at(constructs: Sequence[Of], index: int, *, then: bool = False) -> Of:
    """The construct that an address names; ``then``: of a case as it once was.

    Every route whose address has ``construct`` asks here, so that none shows another bone than the one asked for.

    Raises:
        HTTPException: 404, there is none of that number.
    """
    if index < len(constructs):
        return constructs[index]
    bones = "1 bone" if len(constructs) == 1 else f"{len(constructs)} bones"
    told = f"The case had {bones} then" if then else f"This case has {bones}"
    raise HTTPException(404, f"{told}; there is no number {index + 1}.")
