"""What the store keeps and answers, on each database."""

import json
import sqlite3
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import text

from app.case import InvalidCase, parse_case
from app.single_flight import SingleFlightCache
from app.store import GONE, NotFound, NothingToRedo, NothingToUndo, Stale, Store, Unavailable, open_engine
from app.store import statements as sql
from app.store import whatifs as pinned
from app.store.engine import for_writing, of_one_moment
from app.store.transaction import transaction
from tests.store.damaged import damage


def test_a_new_document_is_read_back_whole(store, titled):
    made = store.create(titled("Forearm"), "New case")
    assert store.get(made.id) == made
    assert made.case == titled("Forearm")
    assert (made.version, made.label, made.can_undo, made.can_redo) == (1, "New case", False, False)
    assert len(made.id) == 12
    assert made.id.isalnum()


def test_another_process_reads_the_same(store, store_url, titled):
    made = store.create(titled("Forearm"), "New case")
    other = Store(store_url)
    assert other.get(made.id) == made
    changed = other.save(made.id, titled("Forearm, both bones"), 1, "Rename")
    assert store.get(made.id) == changed
    assert store.get(made.id).case.title == "Forearm, both bones"
    other.close()


def test_save_undo_redo_each_raise_the_version(store, titled):
    first = store.create(titled("a"), "New")
    second = store.save(first.id, titled("b"), first.version, "Rename to b")
    assert (second.version, second.undo_label, second.redo_label) == (2, "Rename to b", None)
    back = store.undo(first.id, second.version)
    assert (back.version, back.case, back.undo_label, back.redo_label) == (3, titled("a"), None, "Rename to b")
    assert back.revision_id == first.revision_id
    forth = store.redo(first.id, back.version)
    assert (forth.version, forth.case, forth.revision_id) == (4, titled("b"), second.revision_id)
    assert forth.label == forth.undo_label == "Rename to b"


def test_redo_takes_the_newest_branch_and_older_ones_stay(store, titled):
    first = store.create(titled("a"), "New")
    left = store.save(first.id, titled("left"), 1, "Left")
    store.undo(first.id, 2)
    right = store.save(first.id, titled("right"), 3, "Right")
    store.undo(first.id, 4)
    assert store.redo(first.id, 5).case == titled("right")
    assert store.revision(first.id, left.revision_id) == titled("left")
    listed = [(r.id, r.previous_id, r.label, r.title, r.current) for r in store.revisions(first.id)]
    assert listed == [
        (first.revision_id, None, "New", "a", False),
        (left.revision_id, first.revision_id, "Left", "left", False),
        (right.revision_id, first.revision_id, "Right", "right", True),
    ]


def test_a_stale_write_changes_nothing_and_says_what_is_current(store, told, titled):
    made = store.create(titled("a"), "New")
    store.save(made.id, titled("b"), 1, "b")
    store.save(made.id, titled("c"), 2, "c")
    for write in (
        lambda: store.save(made.id, titled("late"), 1, "late"),
        lambda: store.undo(made.id, 2),
        lambda: store.redo(made.id, 4),
    ):
        with pytest.raises(Stale, match="version 3 is current") as caught:
            write()
        assert caught.value.current_version == 3
    assert store.get(made.id).case == titled("c")
    assert len(store.revisions(made.id)) == 3
    assert told.changes == [(made.id, 1), (made.id, 2), (made.id, 3)]


def test_nothing_to_undo_or_redo_changes_nothing(store, told, titled):
    made = store.create(titled("a"), "New")
    with pytest.raises(NothingToUndo, match="first revision"):
        store.undo(made.id, 1)
    with pytest.raises(NothingToRedo, match="no revision follows"):
        store.redo(made.id, 1)
    assert store.get(made.id) == made
    assert told.changes == [(made.id, 1)]


def test_what_is_not_there(store, titled):
    made, other = store.create(titled("a"), "New"), store.create(titled("b"), "New")
    for ask in (
        lambda: store.get("nothere"),
        lambda: store.save("nothere", titled("a"), 1, "x"),
        lambda: store.undo("nothere", 1),
        lambda: store.redo("nothere", 1),
        lambda: store.duplicate("nothere", "x"),
        lambda: store.delete("nothere"),
        lambda: store.revisions("nothere"),
        lambda: store.revision(made.id, 10_000),
        lambda: store.revision(made.id, other.revision_id),
    ):
        with pytest.raises(NotFound, match=r"no such (case|revision)"):
            ask()
    assert store.versions("nothere", made.id) == {made.id: 1}


def test_listing_is_last_changed_first_with_current_titles(store, titled):
    began = datetime.now(UTC)
    one, two = store.create(titled("one"), "New"), store.create(titled("two"), "New")
    assert [entry.title for entry in store.listing()] == ["two", "one"]
    store.save(one.id, titled("one, renamed"), 1, "Rename")
    listed = store.listing()
    assert [(e.id, e.title, e.version) for e in listed] == [(one.id, "one, renamed", 2), (two.id, "two", 1)]
    assert all(began <= e.updated_at <= began + timedelta(seconds=60) for e in listed)
    store.undo(one.id, 2)
    assert store.listing()[0].title == "one"


def test_listing_reads_no_case(store, titled):
    made = store.create(titled("one"), "New")
    damage(store, made.revision_id, "unreadable")
    assert [entry.id for entry in store.listing()] == [made.id]


def test_a_duplicate_goes_its_own_way(store, titled):
    made = store.create(titled("a"), "New")
    copy = store.duplicate(made.id, "b")
    assert copy.id != made.id
    assert copy.case == titled("b")
    assert (copy.version, copy.label, copy.can_undo) == (1, "Duplicate of a", False)
    store.save(copy.id, titled("c"), 1, "Rename")
    assert store.get(made.id) == made
    with pytest.raises(InvalidCase, match="one line of plain text"):
        store.duplicate(made.id, "<b>")


def test_delete_takes_all_revisions_and_nothing_else(store, told, titled):
    gone, kept = store.create(titled("gone"), "New"), store.create(titled("kept"), "New")
    store.save(gone.id, titled("gone too"), 1, "Rename")
    store.delete(gone.id)
    assert told.changes[-1] == (gone.id, GONE)
    assert [entry.id for entry in store.listing()] == [kept.id]
    with pytest.raises(NotFound):
        store.get(gone.id)
    with store.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM revision")).scalar_one() == 1


def test_a_document_with_a_long_history_can_be_deleted(store, titled):
    made = store.create(titled("a"), "New")
    with for_writing(store.engine).begin() as connection:
        head_id = made.revision_id
        for number in range(1500):  # SQLite follows cascades to a depth of 1000
            head_id = sql.add_revision(connection, made.id, head_id, made.case, str(number))
        sql.move_head(connection, made.id, head_id)
    store.delete(made.id)
    assert store.listing() == ()


def test_a_revision_id_never_comes_back(store, titled):
    # The cache of parsed cases would answer with the deleted one.
    gone = store.create(titled("gone"), "New")
    store.delete(gone.id)
    made = store.create(titled("new"), "New")
    assert made.revision_id > gone.revision_id
    assert store.get(made.id).case == titled("new")


def test_a_write_rolled_back_leaves_nothing_in_the_cache(store, titled, monkeypatch):
    made = store.create(titled("a"), "New")

    def fail(*_):
        raise RuntimeError("just before the commit")

    monkeypatch.setattr(sql, "notify", fail)
    with pytest.raises(RuntimeError, match="just before"):
        store.save(made.id, titled("lost"), 1, "Lost")
    monkeypatch.undo()
    assert store.get(made.id) == made
    saved = store.save(made.id, titled("kept"), 1, "Kept")
    assert store.get(made.id).case == store.revision(made.id, saved.revision_id) == titled("kept")


def test_a_case_asked_for_again_is_not_parsed_again(store, titled, monkeypatch):
    made = store.create(titled("a"), "New")
    fresh = Store(store.engine)
    first = fresh.get(made.id)
    monkeypatch.setattr("app.store.reading.parse_case", lambda _: pytest.fail("parsed again"))
    assert fresh.get(made.id).case is first.case


def test_old_cases_make_room_in_the_cache(store, titled, monkeypatch):
    monkeypatch.setattr(store._read, "cases", SingleFlightCache(2))
    ids = [store.create(titled(str(number)), "New").id for number in range(4)]
    assert len(store._read.cases) == 2
    assert [store.get(document_id).case.title for document_id in ids] == ["0", "1", "2", "3"]


@pytest.mark.parametrize(
    ("given", "kept"), [("Move\x00 plate\n", "Move  plate"), ("half \ud800", "half"), ("x" * 500, "x" * 120), ("", "")]
)
def test_labels_are_one_line_of_what_every_database_keeps(store, titled, given, kept):
    made = store.create(titled("a"), "New")
    assert store.save(made.id, titled("b"), 1, given).label == kept
    assert store.get(made.id).can_undo


@pytest.mark.parametrize("odd", ["'; DROP TABLE document; --", "%", "é\N{COMBINING ACUTE ACCENT}", "骨折", "🦴"])
def test_odd_titles_and_ids(store, titled, odd):
    made = store.create(titled(odd), odd)
    assert store.get(made.id).case.title == odd
    assert store.listing()[0].title == odd
    with pytest.raises(NotFound):
        store.get(odd)


def test_importing_the_same_twice_makes_one_document(store, titled):
    made, created = store.import_case(titled("a"))
    assert created
    assert made.label == "Imported"
    again, created = store.import_case(parse_case(made.case.model_dump_json(indent=3)))
    assert (again, created) == (made, False)
    store.save(made.id, titled("edited since"), 1, "Rename")
    other, created = store.import_case(titled("a"))
    assert created
    assert other.id != made.id
    store.undo(made.id, 2)
    assert store.import_case(titled("a"))[0].id == made.id
    assert len(store.listing()) == 2


def test_the_order_of_keys_and_written_defaults_make_no_other_case(store, titled):
    made, _ = store.import_case(titled("a"))
    document = json.loads(made.case.model_dump_json(exclude_defaults=True))
    bare = parse_case(json.dumps(dict(reversed(document.items()))))
    assert store.import_case(bare) == (made, False)


def test_a_library_goes_out_and_comes_in_once(store, titled):
    for title in ("Ulna, segmental", "Ulna, segmental", "骨折", "../../etc"):
        store.create(titled(title), "New")
    exported = {one.name: one.content for one in store.export_library()}
    assert len(exported) == 4
    for name, content in exported.items():
        assert name.endswith(".json")
        assert all(sign.isascii() and (sign.isalnum() or sign in "-.") for sign in name)
        assert not name.startswith((".", "-"))
        assert store.import_case(parse_case(content))[1] is False
    assert sorted(parse_case(content).title for content in exported.values()) == sorted(
        entry.title for entry in store.listing()
    )


def test_an_export_shows_one_moment(store, titled):
    made = [store.create(titled(str(number)), "New") for number in range(3)]
    store.pin(made[2].id, 0, "Kept")
    with transaction(of_one_moment(store.engine)) as connection:
        assert len(store._read.whatif(connection, pinned.pins(connection)[0]).construct.holes) == 3
        store.delete(made[1].id)
        store.save(made[2].id, titled("later"), 1, "Rename")
        store.pin(made[2].id, 0, "Later")
        found = tuple(store._read.everything(connection))
    assert sorted(one.name for one in found) == [f"{number}-{made[number].id}.json" for number in range(3)]
    assert [one.name for case in found for one in parse_case(case.content).whatifs] == ["Kept"]


def test_a_locked_sqlite_database_is_unavailable(sqlite_url, titled, monkeypatch):
    monkeypatch.setattr("app.store.engine.BUSY_TIMEOUT_MS", 50)
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    other = sqlite3.connect(sqlite_url.removeprefix("sqlite:///"))
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(Unavailable, match="another program holds the database; nothing was written"):
        store.save(made.id, titled("b"), 1, "Rename")
    assert store.get(made.id) == made  # readers don't wait for writers
    other.close()
    assert store.save(made.id, titled("b"), 1, "Rename").version == 2
    store.close()


def test_sqlite_is_set_up_for_crashes_and_company(sqlite_url):
    engine = open_engine(sqlite_url)
    with engine.connect() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    engine.dispose()
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 5000}


@pytest.mark.parametrize("url", ["sqlite://", "sqlite:///:memory:", "mysql://localhost/x", "oracle://localhost/x"])
def test_other_databases_are_refused(url):
    with pytest.raises(ValueError, match=r"SQLite needs a file|the database must be"):
        open_engine(url)


def test_a_postgresql_address_needs_no_driver_name():
    engine = open_engine("postgresql://someone@/cases?host=/nowhere")
    assert engine.url.drivername == "postgresql+psycopg"
    engine.dispose()
