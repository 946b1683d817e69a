"""What revisions say: packed, kept once where equal, gone with the last that says it."""

import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import func, inspect, select, text, update

from app.case import parse_case
from app.store import Store, open_engine
from app.store import packing as packing_of_cases
from app.store.content import body_of, hash_of
from app.store.packing import packed, unpacked
from app.store.tables import content, revision
from app.store.thinning import thin_library
from tests.store.damaged import damage
from tests.store.troubled import path_of
from tests.store.versions import bring_to

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "sample_cases").glob("*.json"))


def contents(store, document_id=None):
    wanted = select(func.count()).select_from(content)
    if document_id is not None:
        wanted = wanted.where(content.c.document_id == document_id)
    with store.engine.connect() as connection:
        return connection.execute(wanted).scalar_one()


@given(st.text().map(lambda text: text.encode("utf-8", "replace")))
def test_what_is_packed_comes_out_as_it_was(body):
    assert unpacked(packed(body)) == body


def test_a_dictionary_never_changes():
    # What was written with one can be read with no other: a new text is a new file, beside this one.
    assert packing_of_cases.DICTIONARIES[0] == "packing_1.txt"
    assert zlib.adler32((Path(packing_of_cases.__file__).parent / "packing_1.txt").read_bytes()) == 0x6AE4A431


@pytest.mark.parametrize("file", SAMPLES, ids=lambda one: one.stem)
def test_any_zlib_reads_it_with_the_dictionary(file):
    body = body_of(parse_case(file.read_bytes()))
    kept = packed(body)
    dictionary = (Path(packing_of_cases.__file__).parent / "packing_1.txt").read_bytes()
    # RFC 1950: bit 5 of the second byte says that a dictionary is needed, the next four bytes are its Adler-32.
    assert kept[1] & 0x20
    assert int.from_bytes(kept[2:6], "big") == zlib.adler32(dictionary)
    reader = zlib.decompressobj(zdict=dictionary)
    assert reader.decompress(kept) + reader.flush() == body
    assert len(kept) < len(body) / 3


def test_equal_revisions_of_a_case_are_kept_once(store, titled):
    at = store.create(titled("a"), "New")
    for number in range(1, 11):
        at = store.save(at.id, titled("ab"[number % 2]), at.version, "Rename")
    assert len(store.revisions(at.id)) == 11
    assert contents(store) == 2
    assert [store.revision(at.id, one.id).title for one in store.revisions(at.id)] == [*"ababababab", "a"]
    copy = store.duplicate(at.id, "a ")  # another case's own, whatever becomes of this one
    assert contents(store) == 3
    store.delete(at.id)
    assert contents(store) == 1
    assert store.get(copy.id).case == titled("a")


def test_an_equal_edit_makes_damaged_content_whole(store, store_url, titled):
    made = store.create(titled("a"), "New")
    second = store.save(made.id, titled("b"), 1, "Rename")
    damage(store, second.revision_id, "{}")
    undone = store.undo(made.id, 2)
    again = store.save(made.id, titled("b"), undone.version, "Rename")
    fresh = Store(store_url)
    assert fresh.get(made.id) == again
    assert fresh.revision(made.id, second.revision_id) == titled("b")
    fresh.close()


def test_a_damaged_what_if_that_is_copied_damages_nothing(store, store_url, titled):
    at = store.create(titled("a"), "New")
    first = at.revision_id
    for title in ("b", "a"):
        at = store.save(at.id, titled(title), at.version, "Rename")
    store.pin(at.id, 0, "As begun", first)
    damage(store, first, "{}")  # and with it the current revision, which equals it, and which this process still knows
    copy = store.duplicate(at.id, "a")
    fresh = Store(store_url)
    assert fresh.get(copy.id).case == titled("a")
    assert fresh.whatifs(copy.id)[0].construct == titled("a").constructs[0]
    fresh.close()


def held(store, said):
    """Whether SQLite's files hold these bytes; None: PostgreSQL's are not looked into."""
    if store.engine.dialect.name != "sqlite":
        return None
    return any(said in one.read_bytes() for one in path_of(store).parent.iterdir())


def test_thinning_takes_what_nothing_says_any_more(store, titled):
    at = store.create(titled("first"), "New")
    for title in ("passing", "back and forth", "passing too", "back and forth", "today's"):
        at = store.save(at.id, titled(title), at.version, "Rename")
    ids = [one.id for one in store.revisions(at.id)]
    with store.engine.begin() as connection:
        for minute, one in enumerate(ids[:5]):
            when = datetime(2025, 3, 1, 12, minute, tzinfo=UTC)
            connection.execute(update(revision).where(revision.c.id == one).values(created_at=when))
    other = store.create(titled("passing"), "New")
    passing = packed(body_of(titled("passing too")))
    store.tidy()
    assert held(store, passing) is not False
    assert thin_library(store.engine, datetime.now(UTC) - timedelta(days=30)) == 3
    assert [one.title for one in store.revisions(at.id)] == ["first", "back and forth", "today's"]
    assert (contents(store, at.id), contents(store, other.id)) == (3, 1)
    store.tidy()
    assert not held(store, passing)
    assert [store.revision(at.id, one.id).title for one in store.revisions(at.id)] == [
        "first",
        "back and forth",
        "today's",
    ]


def at_version(url, version):
    """The tables of an earlier version."""
    engine = open_engine(url)
    bring_to(engine, version)
    return engine


def test_bodies_are_carried_over_whatever_they_are(empty_url, titled):
    # Version 0004 kept a text and its hash (hex) in each revision.
    first_format = body_of(titled("a")).replace(b"fishplate-case/2", b"fishplate-case/1").decode()
    a, b = (body_of(titled(title)).decode() for title in "ab")
    a_hash, b_hash = (hash_of(titled(title)).hex() for title in "ab")
    kept = [(a, a_hash), (b, b_hash), (a, a_hash), (first_format, a_hash), (b[:100], b_hash), ("", "no hash")]
    engine = at_version(empty_url, "0004")
    with engine.begin() as connection:
        connection.execute(
            text("INSERT INTO document VALUES ('abc', 9, 3, '2026-01-02 03:04:05', '2026-01-02 03:04:06', 0)")
        )
        row = text(
            "INSERT INTO revision (id, document_id, previous_id, title, body, content_hash, label, created_at)"
            " VALUES (:id, 'abc', :before, 't', :body, :hash, 'label', '2026-01-02 03:04:05')"
        )
        for number, (body, content_hash) in enumerate(kept, 1):
            before = number - 1 if number > 1 else None
            connection.execute(row, {"id": number, "before": before, "body": body, "hash": content_hash})
        connection.execute(
            text("INSERT INTO whatif VALUES (1, 'abc', 2, 0, 'Kept', '2026-01-02 03:04:05')"),
        )
        # Revision 41 was deleted with its document, and its number is used up.
        if engine.dialect.name == "sqlite":
            connection.execute(text("UPDATE sqlite_sequence SET seq = 41 WHERE name = 'revision'"))
        else:
            connection.execute(text("SELECT setval(pg_get_serial_sequence('revision', 'id'), 41)"))
    store = Store(engine)
    for number, (body, _) in enumerate(kept, 1):
        assert store.stored("abc", number) == body.encode()
    assert contents(store) == 5  # of six
    at = store.get("abc")
    assert (at.version, at.case, at.undo_label, at.redo_label) == (9, titled("a"), "label", "label")
    assert store.whatifs("abc")[0].construct == titled("b").constructs[0]
    assert store.import_case(titled("a"))[1] is False
    assert store.undo("abc", 9).case == titled("b")
    assert store.save("abc", titled("c"), 10, "Goes on").revision_id == 42
    with store.engine.connect() as connection:  # foreign keys hold again
        if engine.dialect.name == "sqlite":
            assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    store.delete("abc")
    assert contents(store) == 0
    store.close()


def test_a_carrying_over_that_breaks_off_leaves_all_as_it_was(empty_url, titled, monkeypatch):
    engine = at_version(empty_url, "0004")
    row = text(
        "INSERT INTO revision (id, document_id, title, body, content_hash, label, created_at)"
        " VALUES (1, 'abc', 't', :body, :hash, 'New', '2026-01-02 03:04:05')"
    )
    with engine.begin() as connection:
        connection.execute(
            text("INSERT INTO document VALUES ('abc', 1, 1, '2026-01-02 03:04:05', '2026-01-02 03:04:05', 0)")
        )
        connection.execute(row, {"body": body_of(titled("a")).decode(), "hash": hash_of(titled("a")).hex()})
    with monkeypatch.context() as patched:
        patched.setattr(packing_of_cases, "packed", lambda _: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            Store(engine)
    with engine.connect() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one() == "0004"
        assert connection.execute(text("SELECT body FROM revision")).scalar_one() == body_of(titled("a")).decode()
        assert not inspect(connection).has_table("content")
    store = Store(engine)
    assert store.get("abc").case == titled("a")
    store.close()


def test_bytes_that_are_no_text_are_carried_over_byte_for_byte(sqlite_url, titled):
    engine = at_version(sqlite_url, "0004")
    with engine.begin() as connection:
        connection.execute(text("INSERT INTO document VALUES ('abc', 1, 1, '2026-01-02 03:04:05', '2026-01-02', 0)"))
        connection.execute(
            text(
                "INSERT INTO revision (id, document_id, title, body, content_hash, label, created_at)"
                " VALUES (1, 'abc', CAST(x'7aff' AS TEXT), CAST(x'7b22ff00fe' AS TEXT), 'h', 'New', '2026-01-02')"
            )
        )
    store = Store(engine)
    assert store.stored("abc", 1) == b'{"\xff\x00\xfe'
    assert store.listing()[0].title == "z\ufffd"
    store.close()
