"""What free text may be. Outside: the characters that reorder text and those that show nothing, as Unicode says."""

import copy
import json
import sys
import unicodedata
from collections.abc import Iterator
from typing import Any

import pytest

from app.case import Case, InvalidCase, apply, parse_case, parse_edit
from app.case.plain_text import BIDI_CONTROL, NAME_LENGTH, UNNAMED, UNTITLED, mended_names
from tests.cases import humerus

# UAX #9, section 2: "explicit directional" and "implicit directional formatting characters", twelve in all.
TURNERS = {
    *"\u202a\u202b\u202c\u202d\u202e",  # embeddings and overrides, 2.1 to 2.3
    *"\u2066\u2067\u2068\u2069",  # isolates, 2.4 and 2.5
    *"\u200e\u200f\u061c",  # marks, 2.6
}
# Unicode, DerivedCoreProperties.txt, Default_Ignorable_Code_Point (some), and marks that stand on nothing.
UNSEEN = [
    "\u200b",
    "\u200d\u200c",
    "\ufeff",
    "\u00ad",
    "\u2060",
    "\u3164",
    "\uffa0",
    "\u115f",
    "\u2800",
    "\u0301",
    "\ufe0f",
]


def test_every_character_that_reorders_is_known() -> None:
    explicit = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
    every = [chr(code) for code in range(sys.maxunicode + 1)]
    by_class = {one for one in every if unicodedata.bidirectional(one) in explicit}
    marks = {
        one
        for one in every
        if unicodedata.name(one, "") in ("LEFT-TO-RIGHT MARK", "RIGHT-TO-LEFT MARK", "ARABIC LETTER MARK")
    }
    assert {one for one in every if BIDI_CONTROL.search(one)} == TURNERS == by_class | marks


def renamed(title: str) -> Case:
    case = Case.model_validate(humerus())
    return apply(case, parse_edit({"op": "set_title", "title": title}))


@pytest.mark.parametrize("turner", sorted(TURNERS), ids=unicodedata.name)
def test_what_reorders_is_refused_by_name(turner: str) -> None:
    with pytest.raises(InvalidCase) as caught:
        renamed(f"Arm{turner}1")
    assert f"U+{ord(turner):04X} {unicodedata.name(turner)}" in str(caught.value)
    with pytest.raises(ValueError, match=unicodedata.name(turner)):
        Case.model_validate(humerus(title=f"Arm{turner}1"))


@pytest.mark.parametrize("unseen", UNSEEN, ids=ascii)
def test_a_title_has_something_to_see(unseen: str) -> None:
    with pytest.raises(InvalidCase, match="at least one character that can be seen"):
        renamed(unseen)
    assert renamed(f"{unseen}x").title.endswith("x")


@pytest.mark.parametrize("title", ["x", "?", "7", "🦴", "骨折", "כף", "عظم", "ᄒ", "W" * 120, "नि"])
def test_what_can_be_seen_is_taken_as_it_is(title: str) -> None:
    assert renamed(title).title == title


@pytest.mark.parametrize("version", [1, 2])
@pytest.mark.parametrize(
    ("was", "becomes"),
    [
        ("\u200b", UNTITLED),
        ("\u202e\u2066", UNTITLED),
        ("\u202eArm\u202c 1", "Arm 1"),
        (" \u200f Arm", "Arm"),
        ("Arm\u200d1", "Arm\u200d1"),
    ],
)
def test_older_files_are_read_with_a_title_that_can_be_shown(version: int, was: str, becomes: str) -> None:
    text = Case.model_validate(humerus()).model_copy(update={"title": was}).model_dump_json()
    old = text.replace("fishplate-case/2", f"fishplate-case/{version}")
    assert parse_case(old).title == becomes


@pytest.mark.parametrize("title", ["", "  ", "\x07", "<b>", "x" * 121])
def test_what_no_version_took_stays_refused(title: str) -> None:
    text = Case.model_validate(humerus()).model_copy(update={"title": title}).model_dump_json()
    with pytest.raises(InvalidCase):
        parse_case(text)


def full() -> dict[str, Any]:
    """A case in which everything that can be said in words or names is said."""
    document = json.loads(Case.model_validate(humerus(note="First line.\nSecond\tline.")).model_dump_json())
    construct = document["constructs"][0]
    construct["bone"]["side"] = "left"
    construct["plate"]["surface"] = "posterior"
    construct["lag_screws"] = [{"position_mm": 140, "screw": "cortex-3.5"}]
    construct["acknowledged"] = [{"rule": "flare", "subject": "plate"}]
    whatifs = [{"name": name, "target": 0, "value": copy.deepcopy(construct)} for name in ("Long", "Short")]
    return document | {"acknowledged": [{"rule": "two-bones", "subject": None}], "whatifs": whatifs}


def words(part: Any, where: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Where the document has a string."""
    if isinstance(part, str):
        yield where
    elif isinstance(part, dict | list):
        for step, inner in part.items() if isinstance(part, dict) else enumerate(part):
            yield from words(inner, (*where, step))


def put(document: dict[str, Any], where: tuple[str | int, ...], text: str) -> dict[str, Any]:
    new: Any = copy.deepcopy(document)
    part = new
    for step in where[:-1]:
        part = part[step]
    part[where[-1]] = text
    return new  # type: ignore[no-any-return]


def at(document: Any, where: tuple[str | int, ...]) -> str:
    for step in where:
        document = document[step]
    return str(document)


FREE: list[tuple[str | int, ...]] = [("title",), ("note",), ("whatifs", 1, "name")]


@pytest.mark.parametrize("where", list(words(full())), ids=lambda where: ".".join(map(str, where)))
def test_nothing_in_a_case_holds_what_reorders(where: tuple[str | int, ...]) -> None:
    assert Case.model_validate(full())
    with pytest.raises(ValueError, match="validation error"):
        Case.model_validate(put(full(), where, at(full(), where) + "\u202e"))


@pytest.mark.parametrize("where", FREE, ids=lambda where: str(where[-1]))
@pytest.mark.parametrize("turner", sorted(TURNERS), ids=unicodedata.name)
def test_it_is_named_to_whoever_says_it_and_taken_out_of_what_was_kept(
    turner: str, where: tuple[str | int, ...]
) -> None:
    document = put(full(), where, f"Arm{turner}1")
    with pytest.raises(ValueError, match=unicodedata.name(turner)):
        Case.model_validate(document)
    read = parse_case(json.dumps(document)).model_dump(mode="json")
    assert at(read, where) == "Arm1"


def named(*names: str) -> list[str]:
    """The names of what-ifs as they are read from a file that says them so."""
    document = full()
    document["whatifs"] = [document["whatifs"][0] | {"name": name} for name in names]
    return [one.name for one in parse_case(json.dumps(document)).whatifs]


def test_names_that_were_apart_stay_apart() -> None:
    assert named("Long\u202e", "Long", "\u2066Long") == ["Long 2", "Long", "Long 3"]
    assert named("\u202e", "\u200b", "x") == [UNNAMED, f"{UNNAMED} 2", "x"]
    longest = "x" * NAME_LENGTH
    assert named(longest, f"{longest[1:]}\u200e", f"{longest[2:]}\u200e\u200e") == [longest, longest[1:], longest[2:]]
    assert named(longest[1:], f"{longest[1:]}\u200e") == [longest[1:], f"{longest[2:]} 2"]


@pytest.mark.parametrize("odd", [None, 7, "x", [], ["x"], [{"name": 7}], [{"name": "\u202e", "target": "0"}], [{}]])
def test_what_is_no_list_of_whatifs_is_refused_and_not_mended(odd: object) -> None:
    with pytest.raises(InvalidCase):
        parse_case(json.dumps(full() | {"whatifs": odd or [None]}))


@pytest.mark.parametrize(
    "pair", [("\u00e9", "e\u202e\u0301"), ("A", "\u202e A"), (" A", "\u202eA"), ("e\u0301", "\u202e\u00e9")]
)
def test_names_that_mending_makes_alike_are_told_apart(pair: tuple[str, str]) -> None:
    """Canonical equivalence, Unicode UAX #15: one letter, written in two ways."""
    names = mended_names([(0, name) for name in pair])
    assert len({unicodedata.normalize("NFC", name.strip()) for name in names}) == 2
    assert names[0] == pair[0]
