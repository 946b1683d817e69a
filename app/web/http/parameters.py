"""What addresses and bodies name in common, with the limits of the models: cases, constructs, windows."""

from collections.abc import Sequence
from typing import Annotated, TypeVar

from fastapi import HTTPException, Path, Query
from pydantic import Field, FiniteFloat

from app.case.models import MAX_CONSTRUCTS
from app.drawing.scale import MOST_MM

Of = TypeVar("Of")

CASE_ID = "[A-Za-z0-9_-]+"
CaseId = Annotated[str, Path(min_length=1, max_length=64, pattern=f"^{CASE_ID}$", description="The case's id.")]
ConstructIndex = Annotated[int, Field(ge=0, le=MAX_CONSTRUCTS - 1, description="Which bone of the case, from 0.")]
# An address may ask for what no case has: that isn't found, whether this case has fewer bones or any would.
ConstructInAddress = Annotated[int, Field(ge=0, le=63, description="Which bone of the case, from 0.")]
ConstructInQuery = Annotated[int, Query(ge=0, le=63, description="Which bone of the case, from 0.")]
Millimetres = Annotated[FiniteFloat, Field(ge=-MOST_MM, le=MOST_MM)]


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
