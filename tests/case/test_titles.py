"""What a title may be. Outside: the characters that reorder text and those that show nothing, as Unicode says."""

import sys
import unicodedata

import pytest

from app.case import Case, InvalidCase, apply, parse_case, parse_edit
from app.case.titles import BIDI_CONTROL, UNTITLED
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
