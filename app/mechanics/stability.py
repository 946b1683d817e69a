"""Whether every fragment is held at all, decided by counting screws and said in words before any figure is computed."""

from __future__ import annotations

from app.mechanics.layout import held_fragments
from app.mechanics.model import Construct


def fragment_name(fragment: int, count: int) -> str:
    """Name of a main fragment: 'proximal', 'distal', 'intermediate', or 'intermediate 2' where there are several.

    `fragment` is its index from 0, `count` the number of main fragments.
    """
    if fragment == 0:
        return "proximal"
    if fragment == count - 1:
        return "distal"
    return "intermediate" if count == 3 else f"intermediate {fragment}"


def instability(construct: Construct) -> str | None:
    """Why the construct cannot carry load, in words; None where it can.

    Each main fragment needs at least two screws, one of them through the plate. A bone without a fracture line needs
    one screw.
    """
    count = construct.fragment_count
    if count == 1:
        return None if construct.screws else "unstable: no screw ties the plate to the bone"
    plated = [0] * count
    lagged = [0] * count
    for screw in construct.screws:
        tied = held_fragments(screw)
        for fragment in tied:
            plated[fragment] += 1
        if screw.kind == "lag" and screw.far_fragment is not None and screw.far_fragment not in tied:
            lagged[screw.far_fragment] += 1
    for lag in construct.lag_screws:
        for fragment in {lag.near_fragment, lag.far_fragment}:
            lagged[fragment] += 1
    reasons = [_reason(fragment_name(k, count), plated[k], lagged[k]) for k in range(count)]
    found = [reason for reason in reasons if reason]
    return "unstable: " + "; ".join(found) if found else None


def _reason(name: str, plated: int, lagged: int) -> str:
    if plated + lagged == 0:
        return f"the {name} fragment has no screw"
    if plated == 0:
        return f"no screw ties the {name} fragment to the plate"
    if plated + lagged == 1:
        return f"the {name} fragment turns about its only screw"
    return ""
