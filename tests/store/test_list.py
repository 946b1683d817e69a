"""The list of cases, page by page, found and sorted; on each database alike. No outside source."""

import json
import random

import pytest
from sqlalchemy import text, update

from app.case import parse_case
from app.store import BadPlace, ListedBone, Store, Wanted, open_engine
from app.store.lines import folded
from app.store.packing import packed
from app.store.tables import content, revision
from tests.cases import humerus
from tests.store.test_old_databases import VERSIONS, put_back

TITLES = ["Bosun", "bosun 2", "Äpfel", "Apfel 3", "Zug", "100 %", "a_b", "骨折", "Zug", "éclair"]


def case_of(title, bone="humerus", side=None, code="12A2", principle="compression"):
    made = humerus(title=title)
    one = made["constructs"][0]
    one["bone"] = {"name": bone, "side": side}
    one["fracture"]["code"] = code
    one["principle"] = principle
    return parse_case(json.dumps(made))


@pytest.fixture
def filled(store):
    for number, title in enumerate(TITLES):
        bone, code = (("humerus", "12A2"), ("femur", "32A2"), ("tibia", None))[number % 3]
        side = (None, "left", "right")[number % 3]
        store.create(case_of(title, bone, side, code, ("compression", "bridging")[number % 2]), "New")
    return store


def pages(store, limit, **wanted):
    """All pages, forwards by their own places."""
    found, after = [], None
    while True:
        page = store.page(Wanted(after=after, **wanted), limit)
        found.append(page)
        after = page.after
        if after is None:
            return found


def sorted_by(sort, lines):
    """The same order by other means: Python's own, over all lines."""
    if sort == "newest":
        return sorted(lines, key=lambda one: (-one.updated_at.timestamp(), one.id))
    if sort == "title":
        return sorted(lines, key=lambda one: (folded(one.title), one.id))
    bones = {one.id: [(bone.bone, bone.side or "") for bone in one.bones] for one in lines}
    return sorted(lines, key=lambda one: (bones[one.id], folded(one.title), one.id))


@pytest.mark.parametrize("sort", ["newest", "title", "bone"])
@pytest.mark.parametrize("limit", [1, 3, 10])
def test_pages_together_are_the_whole_in_order(filled, sort, limit):
    found = pages(filled, limit, sort=sort)
    told = [line for page in found for line in page.lines]
    assert told == sorted_by(sort, filled.listing())
    assert all(len(page.lines) == limit for page in found[:-1])
    assert {page.total for page in found} == {len(TITLES)}
    back, before = [found[-1]], found[-1].before
    while before is not None:
        page = filled.page(Wanted(before=before, sort=sort), limit)
        back.insert(0, page)
        before = page.before
    if len(TITLES) % limit == 0 or limit == 1:
        assert back == found
    assert [line for page in back for line in page.lines] == told


@pytest.mark.parametrize("sort", ["newest", "title", "bone"])
def test_edits_between_pages_move_no_other_case(filled, sort):
    """Whatever is edited, made or deleted meanwhile, each case left alone is shown once."""
    draw = random.Random(5)
    before = filled.listing()
    touched, seen, after = set(), [], None
    while True:
        page = filled.page(Wanted(sort=sort, after=after), 2)
        seen += [line.id for line in page.lines]
        after = page.after
        if after is None:
            break
        one = draw.choice(before)
        if one.id not in touched:
            touched.add(one.id)
            if len(touched) % 2:
                filled.save(one.id, case_of(draw.choice("AMZ")), 1, "Edit")
            else:
                filled.delete(one.id)
        filled.create(case_of(draw.choice("AMZ")), "New")
    left_alone = {line.id for line in before} - touched
    assert len(left_alone) >= 4
    assert all(seen.count(one) == 1 for one in left_alone)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("bosun", ["Bosun", "bosun 2"]),
        ("APFEL", ["Apfel 3", "Äpfel"]),
        ("eclair", ["éclair"]),
        ("%", ["100 %"]),
        ("_", ["a_b"]),
        ("骨", ["骨折"]),
        ("femur 32a", ["bosun 2", "Zug", "骨折"]),
        ("left femur", ["bosun 2", "Zug", "骨折"]),
        ("bosun femur bridging", ["bosun 2"]),
        ("bosun tibia", []),
        ("\x00\ud800", TITLES),
        ("'; DROP TABLE listed; --", []),
    ],
)
def test_words_are_found_in_title_bone_side_code_and_principle(filled, words, found):
    page = filled.page(Wanted(words), 100)
    assert sorted(line.title for line in page.lines) == sorted(found)
    assert page.total == len(found)


def test_the_list_follows_the_head(store):
    made = store.create(case_of("one"), "New")
    store.save(made.id, case_of("two", "femur", "left", "32A3", "bridging"), 1, "Edit")
    line = store.page(Wanted("two"), 5).lines[0]
    assert line.bones == (ListedBone("femur", "left", "32A3", "bridging"),)
    store.undo(made.id, 2)
    assert store.page(Wanted("two"), 5).lines == ()
    assert store.page(Wanted("one humerus"), 5).lines[0].bones == (ListedBone("humerus", None, "12A2", "compression"),)
    store.redo(made.id, 3)
    assert store.page(Wanted("two"), 5).total == 1
    copy = store.duplicate(made.id, "copy of two")
    assert store.page(Wanted("copy"), 5).lines[0].id == copy.id
    store.delete(made.id)
    assert [line.id for line in store.page(Wanted("femur"), 5).lines] == [copy.id]


@pytest.mark.parametrize(
    "place",
    [
        "x",
        "AAAA",
        "bnVsbA",
        "WyJ0aXRsZSIsIngiXQ",
        "WyJuZXdlc3QiLDEsMl0",
        "WyJuZXdlc3QiLCIwMDAxLTAxLTAxVDAwOjAwOjAwKzE0OjAwIiwiYSJd",
    ],
)
def test_a_place_that_no_page_named_is_refused(filled, place):
    with pytest.raises(BadPlace, match="begin at its first page"):
        filled.page(Wanted(after=place), 3)
    other = filled.page(Wanted(sort="title"), 3).after
    with pytest.raises(BadPlace):
        filled.page(Wanted(after=other), 3)


@pytest.mark.parametrize("version", VERSIONS)
def test_an_old_library_is_listed(version, empty_url):
    put_back(version, empty_url)
    store = Store(empty_url)
    told = {line.id: line for line in store.page(Wanted(), 100).lines}
    assert set(told) == set(store.versions(*told))
    for one in told:
        case = store.get(one).case
        assert told[one].title == case.title
        assert told[one].bones == tuple(
            ListedBone(c.bone.name, c.bone.side, c.fracture.code, c.principle) for c in case.constructs
        )
        assert one in {line.id for line in store.page(Wanted(case.title), 100).lines}
    store.close()


def test_an_old_library_with_titles_that_nobody_sees_and_a_damaged_case(empty_url):
    put_back("0005", empty_url)
    engine = open_engine(empty_url)
    with engine.begin() as connection:
        heads = connection.execute(text("SELECT id, head_id FROM document ORDER BY id")).all()
        connection.execute(update(revision).where(revision.c.id == heads[0].head_id).values(title="\u200b"))
        hashes = connection.execute(text("SELECT content_hash FROM revision WHERE id = :id"), {"id": heads[1].head_id})
        said = hashes.scalar_one()
        connection.execute(
            update(content)
            .where(content.c.document_id == heads[1].id, content.c.hash == said)
            .values(packed=packed(b'{"constructs": [7]}'))
        )
    engine.dispose()
    store = Store(empty_url)
    told = {line.id: line for line in store.listing()}
    assert told[heads[0].id].title == "Untitled case"
    assert "Untitled case" in [one.title for one in store.revisions(heads[0].id)]
    assert told[heads[1].id].bones == ()
    store.close()
