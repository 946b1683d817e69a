"""Thinning old history: what may go, what stays, and that the case undoes and opens afterwards."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import update

from app.store import Store, Upkeep
from app.store.tables import revision
from app.store.thinning import Point, joined, superfluous, thin_library

NOON = datetime(2025, 3, 1, 12, tzinfo=UTC)


@st.composite
def trees(draw):
    size = draw(st.integers(1, 25))
    points = [
        Point(
            number,
            draw(st.none() | st.integers(1, number - 1)) if number > 1 else None,
            NOON + timedelta(hours=draw(st.integers(0, 200))),
        )
        for number in range(1, size + 1)
    ]
    ids = st.integers(1, size)
    return points, draw(ids), draw(st.lists(ids, max_size=3)), NOON + timedelta(hours=draw(st.integers(0, 210)))


@given(trees())
def test_what_stays_hangs_together_as_before(tree):
    points, head, pinned, before = tree
    gone = superfluous(points, head, pinned, before)
    by_id = {one.id: one for one in points}
    assert head not in gone
    assert not gone & set(pinned)
    assert by_id[head].previous_id not in gone
    assert all(by_id[one].created_at < before for one in gone)
    assert all(by_id[one].previous_id is not None for one in gone)
    # Of every day on which there was a revision, one is left.
    assert {one.created_at.date() for one in points} == {one.created_at.date() for one in points if one.id not in gone}
    now = {one.id: one.previous_id for one in points if one.id not in gone} | joined(points, gone)
    assert set(now) == set(by_id) - gone

    def ancestors(at, previous):
        found = []
        while (at := previous(at)) is not None:
            found.append(at)
        return found

    for one in now:
        before_it = [at for at in ancestors(one, lambda at: by_id[at].previous_id) if at not in gone]
        assert ancestors(one, now.__getitem__) == before_it


@pytest.fixture
def aged(store, titled):
    """Ten revisions on each of three days long ago, the second of them with a what-if, and two of today."""
    at = store.create(titled("0"), "New")
    for number in range(1, 32):
        at = store.save(at.id, titled(f"{number}"), at.version, f"Edit {number}")
    ids = [one.id for one in store.revisions(at.id)]
    with store.engine.begin() as connection:
        for index, one in enumerate(ids[:30]):
            when = NOON + timedelta(days=index // 10, minutes=index)
            connection.execute(update(revision).where(revision.c.id == one).values(created_at=when))
    store.pin(at.id, 0, "Kept", ids[3])
    return at.id, ids


def test_the_last_of_each_day_stays_and_the_rest_undoes(store: Store, aged):
    document_id, ids = aged
    assert thin_library(store.engine, datetime.now(UTC) - timedelta(days=30)) == 30 - 5
    left = store.revisions(document_id)
    assert [one.title for one in left] == ["0", "3", "9", "19", "29", "30", "31"]
    assert [one.previous_id for one in left] == [None, *(one.id for one in left[:-1])]
    assert thin_library(store.engine, datetime.now(UTC) - timedelta(days=30)) == 0
    at = store.get(document_id)
    for title in ("30", "29", "19", "9", "3", "0"):
        at = store.undo(document_id, at.version)
        assert at.case.title == title
    assert not at.can_undo
    for _ in left[1:]:
        at = store.redo(document_id, at.version)
    assert at.case.title == "31"
    assert store.whatifs(document_id)[0].revision_id == ids[3]


def test_nothing_is_thinned_unless_asked_for(sqlite_url, titled, monkeypatch):
    monkeypatch.setattr("app.store.upkeep.FIRST_THINNED_S", 0.0)
    store = Store(sqlite_url)
    asked = []
    monkeypatch.setattr("app.store.upkeep.thin_library", lambda _, before: asked.append(before) or 0)
    for days in (None, 30):
        upkeep = Upkeep(store, days, every_s=0.01)
        upkeep._thread.join(0.2)
        upkeep.close()
        assert len(asked) == (days is not None)
    assert timedelta(days=29.9) < datetime.now(UTC) - asked[0] < timedelta(days=30.1)
    store.close()
