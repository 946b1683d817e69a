"""Versions as entity tags, so that nobody overwrites what they haven't seen."""

import re
from typing import Annotated

from fastapi import Depends, Header, HTTPException

STRONG_TAG = re.compile(r'"([0-9]{1,18})"')
NEVER = -1  # a tag that can be no version of ours: the store will say which one is current


def etag(version: int) -> str:
    """The strong tag of a version."""
    return f'"{version}"'


def expected_version(
    if_match: Annotated[str | None, Header(description='The version that the edit was made on, as in `"7"`.')] = None,
) -> int:
    """The version that a write was made on.

    Raises:
        HTTPException: 428, the header is missing.
    """
    if if_match is None:
        raise HTTPException(428, "Say which version this edit was made on: send its ETag as If-Match.")
    match = STRONG_TAG.fullmatch(if_match.strip())
    return int(match.group(1)) if match else NEVER


def not_modified(if_none_match: str | None, version: int) -> bool:
    """Whether the caller already holds this version."""
    if if_none_match is None:
        return False
    tags = [tag.strip().removeprefix("W/") for tag in if_none_match.split(",")]
    return "*" in tags or etag(version) in tags


ExpectedVersion = Annotated[int, Depends(expected_version)]
