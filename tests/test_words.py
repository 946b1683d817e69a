"""The words that a surgeon reads are those of the trade, wherever they come from.

Common practice, no source: bicortical and unicortical screws, one-third tubular plate, axilla, independent lag screw,
osteoporotic bone, K-wires, working length. The everyday word may stand beside that of the trade, never instead of it.
"""

import ast
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import app
from app.assess import assess, load_knowledge
from app.case.roles import ROLE
from app.figures.construct import BRIDGING_SPAN
from app.order import plan
from app.rules import all_rules
from app.samples import load_samples
from app.sheet.tables import hole_rows, order_rows
from tests.rules.scenes import SCENES

ROOT = Path(app.__file__).parents[1]
KNOWLEDGE = load_knowledge()
# what must not be read, and beside which word it may
OLD = (
    (r"\b(?:one|two)-cortex\b", None),
    (r"\b(?:locking|screws?|through),? (?:in |through )?(?:one|two|both) cort(?:ex|ices)\b", None),
    (r"(?<!one-)\bthird[- ]tubular\b", None),
    (r"\bpockets?\b", "axilla"),
    (r"\bseparate lag\b|\b(?:screws?|lag(?:ged)?|lag it)\b[^.;:]{0,20}\bbeside the plate\b", "independent lag screw"),
    (r"\bpoor bone\b|\bbone is poor\b", None),
    (r"(?<!K-)(?<!Kirschner )\bwires?\b", None),
    (r"\w\(s\)", None),
)
KEYS = re.compile(r"third-tubular-3\.5|^one-cortex$")  # stored by cases and by departments' tables, not read


def old_words(text: str) -> list[str]:
    """The old words in a text."""
    text = KEYS.sub("", text)
    return [
        found[0]
        for pattern, beside in OLD
        for found in re.finditer(pattern, text, re.IGNORECASE)
        if beside is None or beside not in text.lower()
    ]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("two-cortex locking in hole 1", "bicortical locking in hole 1"),
        ("locking, one cortex", "locking, unicortical"),
        ("Run hole 3 through both cortices", "With both cortices on one side it presses nothing"),
        ("Third-tubular 3.5 plate", "One-third tubular 3.5 plate, series third-tubular-3.5"),
        ("forms a pocket with the plate", "forms an axilla (a pocket) with the plate"),
        ("Lag it beside the plate", "independent lag screw: a lag screw beside the plate"),
        ("lag screw 1 beside the plate", "independent lag screw 1"),
        ("In poor bone", "In osteoporotic (poor) bone"),
        ("The wires are out", "The K-wires (Kirschner wires) are out"),
        ("2 screw(s)", "2 screws (S1 and S2)"),
    ],
)
def test_the_scan_finds_what_it_looks_for(old: str, new: str) -> None:
    assert old_words(old)
    assert old_words(new) == []


def literals(file: Path) -> Iterator[str]:
    """String literals of a module other than docstrings; what stands in the holes of an f-string is left out."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    docstrings = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    joined = [node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)]
    parts = {id(part) for node in joined for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings | parts:
            yield node.value
    for whole in joined:
        yield "…".join(str(part.value) for part in whole.values if isinstance(part, ast.Constant))


def strings(value: Any) -> Iterator[str]:
    """Every text in a document, the keys left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from strings(part)
    elif isinstance(value, list):
        for part in value:
            yield from strings(part)


def written() -> dict[str, list[str]]:
    """Texts by the file they stand in."""
    lines = [ROOT / "README.md", ROOT / "app" / "CHANGES.md", *(ROOT / "templates").glob("*.html")]
    told = {file.name: file.read_text(encoding="utf-8").splitlines() for file in lines}
    told |= {str(file): list(literals(file)) for file in (ROOT / "app").rglob("*.py")}
    told |= {
        file.name: list(strings(tomllib.loads(file.read_text(encoding="utf-8"))))
        for file in (ROOT / "app").rglob("*.toml")
    }
    documents = [*(ROOT / "sample_cases").glob("*.json"), *(ROOT / "static" / "schema").glob("*.json")]
    return told | {file.name: list(strings(json.loads(file.read_text(encoding="utf-8")))) for file in documents}


def test_no_old_word_is_written() -> None:
    texts = written()
    assert {"README.md", "help.html", "_keys.html", "bones.toml", "thresholds.toml"} <= texts.keys()
    assert sum(map(len, texts.values())) > 5000
    found = {file: words for file, told in texts.items() if (words := [w for text in told for w in old_words(text)])}
    assert found == {}


def told_of_cases() -> Iterator[str]:
    """What samples and the rules' scenes are told: warnings, remedies, order, holes."""
    for case in [*(sample.case for sample in load_samples()), *(scene.case for scene in SCENES)]:
        assessed = assess(case, KNOWLEDGE, mechanics=False)
        warnings = [*assessed.warnings, *(warning for one in assessed.constructs for warning in one.warnings)]
        for warning in warnings:
            yield warning.message
            if warning.remedy is not None:
                yield warning.remedy.label
        for one in assessed.constructs:
            yield from (text for step in plan(one.layout) for text in (step.what, step.why))
            yield from (cell for row in hole_rows(one.layout) for cell in row)
            yield from (cell for row in order_rows(one.layout) for cell in row.values())


def test_no_old_word_is_told() -> None:
    told = set(told_of_cases())
    assert len(told) > 500
    assert sorted({word for text in told for word in old_words(text)}) == []
    for word in ("bicortical", "independent lag screw", "axilla", "osteoporotic", "K-wires"):
        assert any(word in text for text in told), word


def test_rules_and_roles_are_in_words_of_the_trade() -> None:
    rules = [text for rule in all_rules() for text in (rule.says, rule.why, rule.source)]
    roles = [text for words in ROLE.values() for text in (words.name, words.brief, words.adjective, words.screw)]
    assert [word for text in rules + roles for word in old_words(text)] == []
    assert (ROLE["locking-2"].name, ROLE["locking-1"].name) == ("locking, bicortical", "locking, unicortical")


def test_the_bridging_span_is_introduced_as_working_length() -> None:
    assert BRIDGING_SPAN.label == "Bridging span (working length)"
    (rule,) = (rule for rule in all_rules() if rule.id == "bridging-span")
    assert "bridging span (working length)" in rule.says
    assert "bridging span (working length)" in (ROOT / "templates" / "help.html").read_text(encoding="utf-8")


def test_the_glossary_has_the_words_of_the_trade() -> None:
    terms = " ".join(re.findall(r"<dt>(.*?)</dt>", (ROOT / "templates" / "help.html").read_text(encoding="utf-8")))
    for word in (
        "bicortical", "unicortical", "axilla", "independent lag screw", "working length", "K-wire", "osteoporotic",
        "protection", "eccentric screw", "obliquity",
    ):  # fmt: skip
        assert word in terms
