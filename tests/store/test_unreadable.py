"""One revision that can't be read keeps nothing else from being used: hand-damaged JSON, or of a later version."""

import json

import pytest
from sqlalchemy import select, update

from app.store import NothingToUndo, Store, Unreadable
from app.store.tables import content
from tests.store.damaged import damage

LATER = json.dumps({"format": "fishplate-case/99", "title": "Later", "bones": []})
DAMAGED = ['{"format": "fishplate-case/2", "title": "Shaf', "", LATER, "[]", "null"]


@pytest.fixture
def fresh(store, store_url):
    """A store that has parsed nothing yet."""
    opened = Store(store_url)
    yield opened
    opened.close()


@pytest.mark.parametrize("body", DAMAGED)
def test_an_unreadable_case_is_told_with_its_reason_and_kept_as_it_is(store, fresh, titled, body):
    made, whole = store.create(titled("a"), "New"), store.create(titled("whole"), "New")
    damage(store, made.revision_id, body)
    with pytest.raises(Unreadable, match=r"can't be read: .") as told:
        fresh.get(made.id)
    assert (told.value.document_id, told.value.revision_id) == (made.id, made.revision_id)
    assert fresh.stored(made.id, made.revision_id) == body.encode()
    assert [entry.title for entry in fresh.listing()] == ["whole", "a"]
    assert fresh.get(whole.id) == whole
    there = fresh.unreadable(made.id)
    assert (there.version, there.revision_id, there.title, there.earlier) == (1, made.revision_id, "a", None)
    assert fresh.unreadable(whole.id) is None
    with pytest.raises(NothingToUndo):
        fresh.undo(made.id, 1)


def test_bytes_that_are_no_text_are_kept_byte_for_byte(sqlite_url, titled):
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    with store.engine.connect() as connection:
        whole = bytes(connection.execute(select(content.c.packed)).scalar_one())
    flipped = whole[:-5] + bytes([whole[-5] ^ 1]) + whole[-4:]
    for bytes_kept in (
        b'{"\xff\x00\xfe',
        whole[:-1],
        whole + b"{}",
        whole[:2] + b"abcd" + whole[6:],
        flipped,
        b"x",
        b"",
    ):
        with store.engine.begin() as connection:
            connection.execute(update(content).values(packed=bytes_kept))
        fresh = Store(sqlite_url)
        with pytest.raises(Unreadable):
            fresh.get(made.id)
        assert fresh.stored(made.id, made.revision_id) == bytes_kept
        fresh.close()
    store.close()


def test_undo_leads_back_to_the_last_state_that_can_be_read(store, fresh, titled):
    made = store.create(titled("a"), "New")
    for version, title in enumerate("bcd", start=1):
        at = store.save(made.id, titled(title), version, f"Rename to {title}")
        if title != "b":
            damage(store, at.revision_id, LATER)
    assert fresh.unreadable(made.id).earlier.label == "Rename to b"
    undone = fresh.undo(made.id, 4)
    assert (undone.version, undone.case.title, undone.redo_label) == (5, "b", "Rename to c")
    with pytest.raises(Unreadable):
        fresh.redo(made.id, 5)
    assert fresh.get(made.id) == undone, "a redo that can't be shown leaves the case as it is"
    assert fresh.save(made.id, titled("e"), 5, "Goes on").version == 6


def test_a_what_if_that_cannot_be_read_is_listed_and_can_go(store, fresh, titled):
    made = store.create(titled("a"), "New")
    lost = store.pin(made.id, 0, "Lost")
    store.save(made.id, titled("b"), 1, "Rename")
    whole = store.pin(made.id, 0, "Whole")
    damage(store, lost.revision_id, LATER)
    found = fresh.whatifs(made.id)
    assert [(one.name, one.construct is None) for one in found] == [("Lost", True), ("Whole", False)]
    assert found[1] == whole
    case = fresh.get(made.id).case
    assert [(one.fits(case), one.swap() is None) for one in found] == [(False, True), (True, False)]
    assert fresh.rename_whatif(made.id, lost.id, "Still lost").construct is None
    copy = fresh.duplicate(made.id, "copy")
    assert [(one.name, one.construct is None) for one in fresh.whatifs(copy.id)] == [
        ("Still lost", True),
        ("Whole", False),
    ]
    assert fresh.stored(copy.id, fresh.whatifs(copy.id)[0].revision_id) == LATER.encode()
    fresh.unpin(made.id, lost.id)
    assert fresh.whatifs(made.id) == (whole,)


def test_the_same_case_comes_in_anew_beside_its_damaged_twin(store, fresh, titled):
    made, _ = store.import_case(titled("a"))
    damage(store, made.revision_id, LATER)
    again, new = fresh.import_case(titled("a"))
    assert new
    assert again.case == titled("a")
    assert again.id != made.id


def test_an_export_names_what_cannot_be_read(store, fresh, titled):
    made, whole = store.create(titled("a"), "New"), store.create(titled("whole"), "New")
    damage(store, made.revision_id, LATER)
    found = {one.title: one for one in fresh.export_library()}
    assert found["whole"].fault == ""
    assert (found["a"].content, found["a"].name) == (LATER.encode(), f"a-{made.id}.json")
    assert found["a"].fault
    assert whole.id in found["whole"].name
