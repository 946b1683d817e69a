"""The plan sheet: complete, legible, inside its margins, selectable, with its fonts in it."""

import re
from dataclasses import replace

import pytest

from app.assess import Assessment
from app.case.models import PutAway
from app.rules.acknowledged import marked
from app.sheet import PAPERS, Paper
from app.sheet.sheet import MARGIN_MM
from tests.order.constructs import bridged_ulna, oblique_radius
from tests.papers import Leaf, Word, document, fonts
from tests.sheet.pages import assessed, crowded, opened, sheet, text_of, words_of

HARD = [
    pytest.param(lambda: assessed(oblique_radius()), {"a4": 2, "letter": 2}, id="radius"),
    pytest.param(
        lambda: assessed(bridged_ulna(), oblique_radius(), title="Forearm", note="Both bones."),
        {"a4": 5, "letter": 5},
        id="two",
    ),
    pytest.param(lambda: crowded(), {"a4": 4, "letter": 4}, id="14 holes, 20 warnings"),
    pytest.param(
        lambda: crowded("Femoral shaft, " * 8, "word " * 799), {"a4": 4, "letter": 4}, id="long title and note"
    ),
    pytest.param(lambda: crowded("W" * 120, "n" * 4000), {"a4": 5, "letter": 5}, id="words without end"),
]


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize(("make", "pages"), HARD)
def test_nothing_overflows(make, pages: dict[Paper, int], paper: Paper) -> None:
    data = sheet(make(), paper=paper)
    made = opened(data)
    assert len(made) == pages[paper]
    for page in made:
        width, height = page.width_mm, page.height_mm
        words = words_of(page)
        foot = min(word[1] for word in words if word[4] == "Planning")
        # at the edges of a part a letter may be cut; nothing may stand in the margin otherwise
        cut = 3.0 if "part" in text_of(page) else 0.5
        for left, top, right, bottom, word in words:
            assert left >= MARGIN_MM - cut, word
            assert right <= width - MARGIN_MM + cut, word
            assert top >= MARGIN_MM - 1, word
            assert bottom <= height - 4, word
            assert bottom <= foot + 0.5 or top >= foot - 0.5, f"{word} runs into the footer"


def _below_drawing(page: Leaf) -> list[Word]:
    words = words_of(page)
    start = next(word[1] for word in words if word[4] == "Holes")
    return [word for word in words if word[1] >= start - 0.5]


@pytest.mark.parametrize(("make", "pages"), HARD)
def test_no_words_lie_on_each_other(make, pages: int) -> None:
    page = opened(sheet(make()))[0]
    words = _below_drawing(page)
    assert len(words) > 100
    for i, (l1, t1, r1, b1, first) in enumerate(words):
        for l2, t2, r2, b2, second in words[i + 1 :]:
            across = min(r1, r2) - max(l1, l2)
            # glyph boxes of neighbouring lines touch; a third of the height would be seen
            down = min(b1, b2) - max(t1, t2)
            assert across <= 0.2 or down <= 0.35 * min(b1 - t1, b2 - t2), (first, second)


def test_text_is_legible_even_when_crowded() -> None:
    page = opened(sheet(crowded("W" * 120, "n" * 4000)))[0]
    start = next(word[1] for word in words_of(page) if word[4] == "Holes")
    sizes = [letter.size_pt for letter in page.letters if letter.box and letter.box[1] > start]
    assert min(sizes) >= 4.7  # the level badges of the smallest setting
    assert sorted(sizes)[len(sizes) // 2] >= 6


def test_everything_is_on_the_page_as_text() -> None:
    assessment = assessed(oblique_radius(), title="Short oblique radius, Thursday list")
    one = assessment.constructs[0]
    text = text_of(opened(sheet(assessment))[0])
    assert "Short oblique radius, Thursday list" in text
    assert "Radius 2R2A2, compression" in text
    assert "on the anterior surface (usual)" in text
    for screw in one.layout.screws:
        assert f"{screw.hole} {screw.role} 3.5 cortex {screw.stock_length_mm:g} ({screw.length_mm:.1f})" in text
    assert "Hole 3: a neutral screw. drill neutral 2.5; depth" in text
    assert "tap 3.5; screw" in text
    joined = text.replace("- ", "-")  # a hyphen may end a line
    assert "Taps are not for self-tapping screws." in joined
    assert "Taps 3.5 mm, not for self-tapping screws" in joined
    assert "drill gliding 3.5, then centring sleeve 2.5" in text
    assert "Check and retighten the screw in hole 3." in text
    assert "hexagonal, 2.5 mm across flats" in text
    assert "not a medical device" in text
    assert "Warnings left open" in text


def test_warnings_left_open_are_all_there() -> None:
    assessment = crowded()
    text = text_of(opened(sheet(assessment))[0])
    for warning in assessment.constructs[0].warnings:
        assert warning.message in text
    assert text.count("STOP") == 6
    assert text.count("CAUTION") == 7
    assert text.count("NOTE") == 7


def test_sheet_says_what_can_still_be_corrected() -> None:
    # common practice, no source: after the two end locking screws a little axis, no length and no rotation
    text = text_of(opened(sheet(assessed(bridged_ulna())))[0])
    step = text.split("Hole 11: a bicortical locking screw", 1)[1].split("Now tighten fully the screw in hole 1.", 1)[0]
    assert "no no little" in step
    assert "torque limiter 1.5 N·m" in text


def test_the_simpler_bone_comes_first_and_the_case_has_one_list() -> None:
    pages = [text_of(page) for page in opened(sheet(assessed(bridged_ulna(), oblique_radius(), title="Forearm")))]
    assert "Radius 2R2A2, compression Bone 1 of 2" in pages[0]
    assert "Ulna 2U2C3, bridging Bone 2 of 2" in pages[2]
    assert "On the table, for all of them" in pages[-1]
    assert "locking sleeve 2.8 mm" in pages[-1]
    assert "eccentric drill guide 2.5 mm" in pages[-1]


def test_users_words_are_never_markup() -> None:
    title = '#let x = 1 $a_b$ *b* _i_ `raw` @ref // \\ [c] {d} ~ = "q" #panic()'
    note = '<svg onload=x> &amp; #import "/etc/passwd"\n= Heading\n- item\tend'
    text = text_of(opened(sheet(assessed(oblique_radius(), title=title, note=note)))[0])
    assert title in text
    assert " ".join(note.split()) in text


@pytest.mark.parametrize("title", ["Διάφυση κερκίδας", "Перелом", "Größe ≥ ½ ⌀", "كسر", "骨折", "\U0001f9b4 bone"])
def test_any_script_gives_a_sheet(title: str) -> None:
    pages = opened(sheet(assessed(oblique_radius(), title=title)))
    assert len(pages) == 2


def test_fonts_are_embedded() -> None:
    found = fonts(sheet(crowded()))
    assert found
    for font in found:
        assert len(font.embedded) > 500, f"{font.name} is not embedded"
        assert re.fullmatch(
            r"[A-Z]{6}\+FishplateSans-(Regular|Bold)(-Identity-H)?", font.name
        )  # ISO 32000-1, 9.6.4: tag of a subset


def test_document_is_titled_tagged_and_the_same_every_time() -> None:
    assessment = assessed(oblique_radius())
    data = sheet(assessment)
    assert data == sheet(assessment)
    made = document(data)
    assert made.metadata is not None
    assert made.metadata.title == "Plan: Oblique radius"
    assert "/StructTreeRoot" in made.root_object
    assert made.root_object["/Lang"] == "en"


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("letter", (215.9, 279.4))])
def test_paper(paper: Paper, size: tuple[float, float]) -> None:
    # ISO 216 A4; ANSI Letter
    page = opened(sheet(assessed(oblique_radius()), paper=paper))[0]
    assert (page.width_mm, page.height_mm) == pytest.approx(size, abs=0.1)


def test_unknown_paper_is_refused() -> None:
    with pytest.raises(KeyError):
        sheet(assessed(oblique_radius()), paper="a5")  # type: ignore[arg-type]


def test_a_construct_without_screws_has_a_sheet(without_screws: Assessment) -> None:
    text = text_of(opened(sheet(without_screws))[0])
    assert "Reduce the fracture" in text


@pytest.fixture
def without_screws() -> Assessment:
    return assessed(oblique_radius(roles="........"))


def test_notes_put_away_are_listed_as_acknowledged_and_nowhere_else() -> None:
    plain = crowded()
    one = plain.constructs[0]
    text = text_of(opened(sheet(plain))[0])
    assert "Acknowledged" not in text
    warnings = marked(one.warnings, {PutAway(rule="near-fracture")})
    made = opened(sheet(replace(plain, constructs=(replace(one, warnings=warnings),))))
    text = text_of(made[0])
    assert len(made) == 4
    open_part, away_part = text.split("Acknowledged")
    assert (text.count("STOP"), text.count("CAUTION"), text.count("NOTE")) == (6, 7, 0)
    for warning in warnings:
        where = away_part if warning.level == "note" else open_part
        assert [part for part in (open_part, away_part) if warning.message in part] == [where]


def test_a_note_on_the_whole_case_is_acknowledged_on_the_page_for_all() -> None:
    both = assessed(bridged_ulna(), oblique_radius(), title="Forearm")
    (note,) = [one for one in both.warnings if one.level == "note"]
    away = replace(both, warnings=marked(both.warnings, {PutAway(rule=note.rule)}))
    last = text_of(opened(sheet(away))[-1])
    assert note.message in last.split("Acknowledged")[1]
