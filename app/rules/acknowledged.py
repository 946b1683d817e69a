"""Which warnings are put away: notes of the rules that whoever plans the case has acknowledged, and nothing else."""

from collections.abc import Collection, Iterable
from dataclasses import replace

from app.rules.registry import Warning


def acknowledged(warning: Warning, rules: Collection[str]) -> bool:
    """Whether a warning is put away: it is a note, and its rule is among ``rules``. Stops and cautions never are."""
    return warning.level == "note" and warning.rule in rules


def marked(warnings: Iterable[Warning], rules: Collection[str]) -> tuple[Warning, ...]:
    """The warnings in their order, those that are put away marked as such and last."""
    told = [replace(one, acknowledged=True) if acknowledged(one, rules) else one for one in warnings]
    return tuple(sorted(told, key=lambda one: one.acknowledged))


def left_open(warnings: Iterable[Warning]) -> tuple[Warning, ...]:
    """Those that are not put away."""
    return tuple(one for one in warnings if not one.acknowledged)


def put_away(warnings: Iterable[Warning]) -> tuple[Warning, ...]:
    """Those that are."""
    return tuple(one for one in warnings if one.acknowledged)
