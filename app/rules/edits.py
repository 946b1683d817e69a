"""The edits that remedies are made of."""

from collections.abc import Iterable, Sequence

from app.case.edits import AddLag, SetRole, SetTilt, SingleEdit, Together
from app.case.models import LagScrew, Role
from app.case.roles import ROLE
from app.rules.registry import Remedy, RuleInput


def role_edit(judged: RuleInput, number: int, role: Role, tilt_deg: float | None = None) -> SetRole:
    """Give hole ``number`` (from 1) a role, and a tilt where one is meant."""
    if tilt_deg is None:
        return SetRole(target=judged.target, hole=number - 1, role=role)
    return SetRole(target=judged.target, hole=number - 1, role=role, tilt_deg=tilt_deg)


def tilt_edit(judged: RuleInput, number: int, tilt_deg: float) -> SetTilt:
    """Lean the screw in hole ``number`` (from 1)."""
    return SetTilt(target=judged.target, hole=number - 1, tilt_deg=tilt_deg)


def add_lag_edit(judged: RuleInput, lag: LagScrew) -> AddLag:
    """Add an independent lag screw."""
    return AddLag(target=judged.target, value=lag)


def remedy(label: str, edits: Sequence[SingleEdit]) -> Remedy:
    """One edit as it is, several as one step."""
    if len(edits) == 1:
        return Remedy(label, edits[0])
    return Remedy(label, Together(label=label, edits=tuple(edits)))


def fill(judged: RuleInput, numbers: Sequence[int], role: Role) -> Remedy:
    """Fill the named holes with screws of one role, straight."""
    word = ROLE[role].adjective
    what = f"a {word} screw" if len(numbers) == 1 else f"{word} screws"
    return remedy(f"Put {what} in {holes(numbers)}", [role_edit(judged, n, role, 0.0) for n in numbers])


def empty(judged: RuleInput, numbers: Sequence[int]) -> Remedy:
    """Leave the named holes empty."""
    return remedy(f"Leave {holes(numbers)} empty", [role_edit(judged, n, "empty") for n in numbers])


def listed(parts: Iterable[object]) -> str:
    """Parts in words: ``1``, ``1 and 2``, ``1, 2 and 3``."""
    words = [str(part) for part in parts]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def holes(numbers: Sequence[int]) -> str:
    """Holes in words, ascending numbers given: ``hole 3``, ``holes 3 and 4``, ``holes 1, 4 to 8 and 11``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [part for run in runs for part in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else run)]
    return f"hole{'s' if len(numbers) > 1 else ''} {listed(parts)}"
