"""A write that carries a key happens once, as draft-ietf-httpapi-idempotency-key-header wants it (from memory).

The draft: the first request with a key is carried out; a retry with the same key gets the first one's result; a retry
while the first is still being carried out must not be carried out beside it; the same key with other content is
refused; and a server says how long it keeps keys.
"""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier

import pytest
from sqlalchemy import text

from app.store import KeyReused, NotFound, Once, Stale, Store
from app.store.once import KEPT_FOR

ONCE = Once("8e03978e-40d5-43dd-bc93-6894a57f9324", "a" * 64)
OTHER = Once("another-key", "a" * 64)
CHANGED = Once(ONCE.key, "b" * 64)


def keys_kept(store):
    with store.engine.connect() as connection:
        return connection.execute(text("SELECT count(*) FROM write_key")).scalar_one()


def test_an_edit_sent_twice_is_one_revision(store, told, titled):
    made = store.create(titled("a"), "New")
    first = store.save(made.id, titled("b"), 1, "Rename", ONCE)
    # The repeat names the version it was made on, or the one that its sender has learned of since.
    assert store.save(made.id, titled("b"), 1, "Rename", ONCE) == first
    assert store.save(made.id, titled("b"), 2, "Rename", ONCE) == first
    assert [one.label for one in store.revisions(made.id)] == ["New", "Rename"]
    assert told.changes == [(made.id, 1), (made.id, 2)]
    assert store.save(made.id, titled("b"), 2, "Rename", OTHER).version == 3


def test_a_repeat_is_answered_as_the_first_was_whatever_came_after(store, titled):
    made = store.create(titled("a"), "New")
    first = store.save(made.id, titled("b"), 1, "Rename", ONCE)
    store.save(made.id, titled("c"), 2, "Again")
    again = store.save(made.id, titled("b"), 1, "Rename", ONCE)
    assert (again.version, again.case, again.label, again.undo_label) == (2, first.case, "Rename", "Rename")
    assert store.written(made.id, ONCE) == again
    assert store.get(made.id).version == 3


def test_undo_and_redo_sent_twice_are_one_step(store, titled):
    made = store.create(titled("a"), "New")
    for version, title in enumerate("bcd", start=1):
        store.save(made.id, titled(title), version, title)
    undone = store.undo(made.id, 4, ONCE)
    assert store.undo(made.id, 4, ONCE) == store.undo(made.id, 5, ONCE) == undone
    assert (undone.version, undone.case.title) == (5, "c")
    redone = store.redo(made.id, 5, OTHER)
    assert store.redo(made.id, 5, OTHER) == redone == store.get(made.id)
    assert (redone.version, redone.case.title) == (6, "d")


def test_what_is_new_is_made_once(store, titled):
    made = store.create(titled("a"), "New", ONCE)
    assert store.create(titled("a"), "New", ONCE) == made
    copy = store.duplicate(made.id, "b", OTHER)
    assert store.duplicate(made.id, "b", OTHER) == copy
    assert sorted(one.title for one in store.listing()) == ["a", "b"]
    # The key belongs to what it was sent to: with an edit of this document it is another one.
    assert store.save(made.id, titled("c"), 1, "Rename", ONCE).version == 2


def test_a_what_if_is_kept_once(store, titled):
    made = store.create(titled("a"), "New")
    kept = store.pin(made.id, 0, once=ONCE)
    assert store.pin(made.id, 0, once=ONCE) == kept
    assert [one.name for one in store.whatifs(made.id)] == ["What-if 1"]
    assert store.pin_counts(made.id) == {made.id: 1}
    store.unpin(made.id, kept.id)
    with pytest.raises(NotFound, match="no such what-if"):
        store.pin(made.id, 0, once=ONCE)


def test_the_same_key_for_something_else_is_refused(store, titled):
    made = store.create(titled("a"), "New")
    first = store.save(made.id, titled("b"), 1, "Rename", ONCE)
    for ask in (
        lambda: store.save(made.id, titled("c"), 2, "Rename", CHANGED),
        lambda: store.undo(made.id, 2, CHANGED),
        lambda: store.pin(made.id, 0, once=CHANGED),
        lambda: store.written(made.id, CHANGED),
    ):
        with pytest.raises(KeyReused, match="nothing was written"):
            ask()
    assert store.get(made.id) == first


def test_a_write_that_was_refused_leaves_its_key_free(store, titled):
    made = store.create(titled("a"), "New")
    with pytest.raises(Stale):
        store.save(made.id, titled("b"), 7, "Rename", ONCE)
    assert keys_kept(store) == 0
    assert store.written(made.id, ONCE) is None
    assert store.save(made.id, titled("b"), 1, "Rename", ONCE).version == 2


def test_the_same_write_from_many_at_once_happens_once(store_url, titled):
    # A store each, as several processes would have.
    stores = [Store(store_url) for _ in range(4)]
    made = stores[0].create(titled("a"), "New")
    together = Barrier(8, timeout=20)

    def attempt(number):
        together.wait()
        return stores[number % 4].save(made.id, titled("b"), 1, "Rename", ONCE)

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(attempt, range(8)))
    assert answers == [answers[0]] * 8
    assert len(stores[0].revisions(made.id)) == 2
    for store in stores:
        store.close()


def test_a_key_lasts_longer_than_the_process(store, store_url, titled):
    made = store.create(titled("a"), "New")
    first = store.save(made.id, titled("b"), 1, "Rename", ONCE)
    restarted = Store(store_url)
    assert restarted.save(made.id, titled("b"), 1, "Rename", ONCE) == first
    restarted.close()


def test_keys_are_dropped_after_seven_days(store, store_url, titled):
    assert timedelta(days=7) == KEPT_FOR
    made = store.create(titled("a"), "New")
    store.save(made.id, titled("b"), 1, "Rename", ONCE)
    store.save(made.id, titled("c"), 2, "Rename", OTHER)
    old = datetime.now(UTC) - KEPT_FOR - timedelta(minutes=1)
    with store.engine.begin() as connection:
        moment = old if connection.dialect.name == "postgresql" else old.strftime("%Y-%m-%d %H:%M:%S.%f")
        aged = text("UPDATE write_key SET created_at = :moment WHERE key = :key")
        connection.execute(aged, {"moment": moment, "key": ONCE.key})
    store.save(made.id, titled("d"), 3, "Rename", Once("third", "x"))
    assert keys_kept(store) == 3, "looked for once an hour, not with every write"
    later = Store(store_url)  # and at the first write of a process
    later.save(made.id, titled("e"), 4, "Rename", Once("fourth", "x"))
    assert keys_kept(store) == 3, "the fourth came, the first went"
    assert later.written(made.id, ONCE) is None
    assert later.written(made.id, OTHER).version == 3
    later.close()


def test_a_write_without_a_key_keeps_none(store, titled):
    made = store.create(titled("a"), "New")
    store.save(made.id, titled("b"), 1, "Rename")
    store.undo(made.id, 2)
    assert keys_kept(store) == 0
