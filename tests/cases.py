"""Case documents for the tests of pages and API."""

from typing import Any


def humerus(**change: Any) -> dict[str, Any]:
    """A nine-hole plate on an oblique humeral shaft fracture."""
    roles = ["neutral", "empty", "neutral", "neutral", "lag", "eccentric", "neutral", "empty", "neutral"]
    construct = {
        "bone": {"name": "humerus", "length_mm": 310, "midshaft_depth_mm": 21},
        "fracture": {"code": "12A2", "lines": [{"position_mm": 160, "obliquity_deg": 40}]},
        "principle": "compression",
        "plate": {"series": "large-narrow-4.5", "holes": 9, "centre_mm": 160},
        "holes": [{"role": role} for role in roles],
    }
    return {"format": "fishplate-case/2", "title": "Bosun’s arm", "constructs": [construct], **change}


def with_change(path: str, value: Any) -> dict[str, Any]:
    """The same case with one field set, by its dotted path."""
    document = humerus()
    place: Any = document
    *steps, last = path.split(".")
    for step in steps:
        place = place[int(step) if step.isdecimal() else step]
    place[last] = value
    return document
