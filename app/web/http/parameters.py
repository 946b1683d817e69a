"""What stands in an address, with its limits: a case's id, and which construct of it."""

from typing import Annotated

from fastapi import Path, Query

from app.case.edits import Index

CASE_ID = "[A-Za-z0-9_-]+"

CaseId = Annotated[str, Path(min_length=1, max_length=64, pattern=f"^{CASE_ID}$", description="The case's id.")]
ConstructIndex = Annotated[Index, Query(description="Which bone of the case, from 0.")]
