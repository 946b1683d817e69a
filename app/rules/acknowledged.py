"""Which warnings are put away: notes that whoever plans the case has acknowledged, and nothing else."""

from collections.abc import Collection, Iterable
from dataclasses import replace

from app.case.models import PutAway
from app.rules.registry import Warning


def subject_of(warning: Warning) -> str | None:
    """What a warning is about, as the case file says it; None where it is about nothing in particular."""
    return " ".join(warning.subject) or None


def acknowledged(warning: Warning, away: Collection[PutAway]) -> bool:
    """Whether a warning is put away: a note, whose rule and subject are among those. Stops and cautions never are."""
    about = (None, subject_of(warning))
    return warning.level == "note" and any(one.rule == warning.rule and one.subject in about for one in away)


def marked(warnings: Iterable[Warning], away: Collection[PutAway]) -> tuple[Warning, ...]:
    """The warnings in their order, those that are put away marked as such and last."""
    told = [replace(one, acknowledged=True) if acknowledged(one, away) else one for one in warnings]
    return tuple(sorted(told, key=lambda one: one.acknowledged))


def left_open(warnings: Iterable[Warning]) -> tuple[Warning, ...]:
    """Those that are not put away."""
    return tuple(one for one in warnings if not one.acknowledged)


def put_away(warnings: Iterable[Warning]) -> tuple[Warning, ...]:
    """Those that are."""
    return tuple(one for one in warnings if one.acknowledged)
