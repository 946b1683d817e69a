"""What may be offered in a menu or by a button: what can be made, and shown once it is made."""

from typing import Any

from app.assess import Knowledge, check_edit
from app.case.edits import apply, parse_edit
from app.case.faults import InvalidCase
from app.case.models import Case


def accepted(case: Case, edit: dict[str, Any], knowledge: Knowledge) -> bool:
    """Whether an edit may be offered: it can be made, and what comes of it can be shown."""
    try:
        check_edit(case, apply(case, parse_edit(edit)), knowledge)
    except InvalidCase:
        return False
    return True
