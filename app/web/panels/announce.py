"""One sentence when a gesture ends: what was done, and which warnings came and went."""

from app import rules
from app.assess import Assessment


def _all(assessment: Assessment) -> list[rules.Warning]:
    return [*(warning for one in assessment.constructs for warning in one.warnings), *assessment.warnings]


def _key(warning: rules.Warning) -> tuple[str, str, tuple[str, ...]]:
    return warning.rule, warning.level, warning.subject


def announce(label: str, before: Assessment, after: Assessment) -> str:
    """The sentence; warnings are the same if rule, level and subject are."""
    had, have = _all(before), _all(after)
    old, new = {_key(warning) for warning in had}, {_key(warning) for warning in have}
    came = [warning for warning in have if _key(warning) not in old]
    went = [warning for warning in had if _key(warning) not in new]
    parts = [label]
    if came:
        rest = f" and {len(came) - 1} more" if len(came) > 1 else ""
        parts.append(f"new {came[0].level}: {came[0].message.rstrip('.')}{rest}")
    if went:
        parts.append(f"{len(went)} {'warning' if len(went) == 1 else 'warnings'} gone")
    if not came and not went:
        parts.append("warnings unchanged")
    return "; ".join(parts) + "."
