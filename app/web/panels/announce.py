"""One sentence when a gesture ends: what was done, and which warnings came and went."""

from app import rules
from app.assess import Assessment
from app.suggest import Stop

Key = tuple[str, str, tuple[str, ...]]


def _all(assessment: Assessment) -> list[rules.Warning]:
    return [*(warning for one in assessment.constructs for warning in one.warnings), *assessment.warnings]


def _key(warning: rules.Warning) -> Key:
    return warning.rule, warning.level, warning.subject


def _keys(warnings: tuple[rules.Warning, ...]) -> set[Key]:
    return {_key(warning) for warning in warnings}


def announce(label: str, before: Assessment, after: Assessment, stop: Stop | None = None) -> str:
    """The sentence; warnings are the same if rule, level and subject are.

    Where the edit was to go further than it can, the sentence says what stops it. A note that is put away is not gone,
    and one that joins those put away is counted, not told.
    """
    had, have = _all(before), _all(after)
    open_before, open_now = _keys(rules.left_open(had)), _keys(rules.left_open(have))
    away_before, away_now = _keys(rules.put_away(had)), _keys(rules.put_away(have))
    came = [one for one in have if _key(one) in open_now - open_before - away_before]
    came.sort(key=lambda one: rules.LEVELS.index(one.level))  # the gravest is told first, whichever bone it is on
    went = sum(_key(one) in open_before - open_now - away_now for one in had)
    folded = sum(_key(one) in open_before & away_now for one in have)
    back = sum(_key(one) in away_before & open_now for one in have)
    joined = sum(_key(one) in away_now - away_before - open_before for one in have)
    parts = [label] if stop is None else [f"{label}, as far as it goes ({stop.why})"]
    if came:
        rest = f" and {len(came) - 1} more" if len(came) > 1 else ""
        parts.append(f"new {came[0].level}: {came[0].message.rstrip('.')}{rest}")
    if went:
        parts.append(f"{_counted(went, 'warning')} gone")
    if folded:
        parts.append(f"{_counted(folded, 'note')} folded away")
    if back:
        parts.append(f"{_counted(back, 'note')} back in the list")
    if joined:
        parts.append(f"{_counted(joined, 'note')} more among the noted")
    if len(parts) == 1:
        parts.append("warnings unchanged")
    return "; ".join(parts) + "."


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
