"""Previews: what somebody is trying out reaches who follows, in every process, and is kept nowhere."""

import asyncio
import json
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import inspect, text

from app.case import parse_edit
from app.store import GONE, Changes, Pins, Preview, Store, watch
from app.store.preview import EDIT_BYTES, Message, read, written
from app.store.relay import PREVIEW_CHANNEL

WITHIN_S = 10


def moving(version, seq, mm=150.0, hand=""):
    return Preview(version, 0, {"op": "move_plate", "target": 0, "centre_mm": mm}, seq, hand)


async def heard(reader):
    return await asyncio.wait_for(anext(reader), WITHIN_S)


async def nothing_from(reader, wait_s=0.05):
    with pytest.raises(asyncio.TimeoutError):
        await asyncio.wait_for(anext(reader), wait_s)


def follow(told, after=0):
    """What a reader hears who comes to it after all was told."""

    async def scene():
        changes = Changes()
        found = []
        with changes.subscribe("a", after) as reader:
            for word in told:
                changes.preview("a", word) if isinstance(word, Preview) else changes.tell("a", word)
            await asyncio.sleep(0)
            while reader._waiting:
                found.append(await heard(reader))
            await nothing_from(reader, 0.001)
        return found

    return asyncio.run(scene())


def test_a_follower_sees_the_drag_the_commit_and_the_next_drag():
    async def scene():
        changes = Changes()
        with changes.subscribe("a", 3) as reader, changes.subscribe("b") as other:
            for word in (moving(3, 1), moving(3, 2), 4, moving(4, 1)):
                changes.preview("a", word) if isinstance(word, Preview) else changes.publish("a", word)
                assert await heard(reader) == word
            await nothing_from(other)

    asyncio.run(scene())


def test_a_slow_follower_gets_the_newest_of_each_kind_in_the_order_they_came():
    assert follow([moving(3, 1), moving(3, 2), moving(3, 3)], 3) == [moving(3, 3)]
    assert follow([moving(3, 1), Pins(1), moving(3, 2), Pins(2)], 3) == [moving(3, 2), Pins(2)]
    assert follow([5, moving(5, 1), 6, Pins(1), moving(6, 2)]) == [6, Pins(1), moving(6, 2)]


def test_a_preview_never_comes_after_what_followed_it():
    # Else the follower would show a state that is over: the plate would jump back after the commit.
    assert follow([moving(3, 1), 4], 3) == [4]
    assert follow([4, moving(3, 9)], 3) == [4]
    assert follow([moving(2, 1)], 3) == []


def test_a_preview_may_come_before_word_of_its_version():
    assert follow([moving(4, 1), 4], 3) == [moving(4, 1), 4]


def test_the_end_of_trying_is_told():
    assert follow([moving(3, 1), Preview(3, 0, None, 2)], 3) == [Preview(3, 0, None, 2)]


def test_what_was_overtaken_on_its_way_does_not_begin_again():
    # A page that is closed in mid-drag has a preview on its way, and says at once that nothing is tried any more.
    given_up = Preview(3, 0, None, 2, "a")
    assert follow([moving(3, 1, hand="a"), given_up, moving(3, 1, hand="a")], 3) == [given_up]
    again = moving(3, 3, hand="a")
    assert follow([given_up, again], 3) == [again]


@pytest.mark.parametrize("hand", ["", "b"])
def test_the_counts_of_two_hands_are_not_compared(hand):
    of_another = moving(3, 1, hand=hand)
    assert follow([Preview(3, 0, None, 2, "a"), of_another], 3) == [of_another]


def test_the_same_count_of_what_ifs_is_told_once():
    assert follow([Pins(2), Pins(1), Pins(2)]) == [Pins(2)]


@given(st.lists(st.one_of(st.integers(1, 6), st.builds(moving, st.integers(1, 6), st.integers(0, 9)))))
def test_whatever_comes_the_last_version_is_heard_and_no_older_preview_after_it(told):
    found = follow(told)
    versions = [word for word in told if isinstance(word, int)]
    assert [word for word in found if isinstance(word, int)] == ([max(versions)] if versions else [])
    previews = [word for word in found if isinstance(word, Preview)]
    assert len(previews) <= 1
    assert all(preview.version >= max(versions, default=0) for preview in previews)


def test_a_deleted_case_ends_the_following_whatever_waits():
    async def scene():
        changes = Changes()
        with changes.subscribe("a") as reader:
            changes.preview("a", moving(1, 1))
            changes.publish("a", GONE)
            await asyncio.sleep(0)
            with pytest.raises(StopAsyncIteration):
                await heard(reader)

    asyncio.run(scene())


def test_an_edit_too_long_to_pass_on_shows_what_is_committed():
    def noting(count):
        return Preview(1, 0, {"op": "set_note", "note": "x" * count}, 7)

    frame = len(json.dumps({"op": "set_note", "note": ""}, separators=(",", ":")))
    most = noting(EDIT_BYTES - frame)
    assert follow([most], 1) == [most]
    assert follow([noting(EDIT_BYTES - frame + 1)], 1) == [Preview(1, 0, None, 7)]


TEXTS = st.text(max_size=20)
EDITS = st.none() | st.dictionaries(TEXTS, st.integers() | TEXTS | st.floats(allow_nan=False), max_size=4)
COUNTS = st.integers(0, 2**53)


@given(st.builds(Message, TEXTS, TEXTS, st.builds(Preview, COUNTS, COUNTS, EDITS, COUNTS, TEXTS)))
def test_a_message_is_read_as_it_was_written(message):
    line = written(message)
    assert line.isascii()
    assert "\x00" not in line  # PostgreSQL takes none
    assert read(line) == message


def test_the_longest_message_fits_what_postgresql_carries():
    # PostgreSQL 15 documentation, NOTIFY: "in the default configuration it must be shorter than 8000 bytes".
    edit = {"op": "set_note", "note": "\x00" * ((EDIT_BYTES - 40) // 6)}
    preview = Preview(2**53, 63, edit, 2**53, "f" * 36).fitted()
    assert preview.edit == edit
    assert EDIT_BYTES < len(written(Message(Changes().sender, "x" * 64, preview))) < 8000


@pytest.mark.parametrize(
    "line",
    ["", "{}", "[]", "null", "7", "[" * 9000, '["s","a",1,0,0,null]', '["s","a",1,0,0,[],""]',
     '["s","a","1",0,0,null,""]', '["s","a",1,0,-1,null,""]',
     '["s","a",true,0,0,null,""]', '[1,"a",1,0,0,null,""]', '["s",null,1,0,0,null,""]',
     '["s","a",1,0,0,null,7]', "9" * 5000],
)  # fmt: skip
def test_what_is_no_message_is_not_read(line):
    assert read(line) is None


def wait_until_both_listen(store):
    """A preview is kept nowhere: whoever comes to listen after it never hears of it."""
    listening = text(
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND state = 'idle' AND query = :last"
    )
    deadline = time.monotonic() + WITHIN_S
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        while connection.execute(listening, {"last": f"LISTEN {PREVIEW_CHANNEL}"}).scalar_one() < 2:
            assert time.monotonic() < deadline
            time.sleep(0.01)


@pytest.fixture
def company(store_url):
    """Two processes: whoever sketches, and whoever looks on."""
    stores, hubs = (Store(store_url), Store(store_url)), (Changes(), Changes())
    watchers = [watch(one, hub) for one, hub in zip(stores, hubs, strict=True)]
    if stores[0].engine.dialect.name == "postgresql":
        wait_until_both_listen(stores[0])
    yield stores[0], hubs
    for watcher, store in zip(watchers, stores, strict=True):
        watcher.close()
        store.close()


@pytest.mark.postgres
@pytest.mark.parametrize("store_url", ["postgresql"], indirect=True)
def test_postgresql_takes_previews_to_other_processes_once(company, titled):
    store, (here, there) = company
    made = store.create(titled("a"), "New")

    async def scene():
        with here.subscribe(made.id, 1) as near, there.subscribe(made.id, 1) as far:
            for seq in range(1, 6):
                here.preview(made.id, moving(1, seq))
                assert await heard(near) == moving(1, seq)
                received = await heard(far)
                assert received == moving(1, seq)
                assert parse_edit(received.edit).centre_mm == 150.0
            there.preview(made.id, Preview(1, 0, None, 1))
            assert await heard(near) == Preview(1, 0, None, 1) == await heard(far)
            await nothing_from(near, 0.15)  # its own preview doesn't come back
            await asyncio.to_thread(store.save, made.id, titled("b"), 1, "Rename")
            assert await heard(far) == 2

    asyncio.run(scene())


@pytest.mark.postgres
@pytest.mark.parametrize("store_url", ["postgresql"], indirect=True)
def test_a_flood_of_previews_ends_with_the_last(company, titled):
    store, (here, there) = company
    made = store.create(titled("a"), "New")

    async def scene():
        with there.subscribe(made.id, 1) as far:
            began = time.monotonic()
            for seq in range(1, 3001):
                here.preview(made.id, moving(1, seq, seq / 100))
            assert time.monotonic() - began < 2  # whoever drags doesn't wait for the database
            last = 0
            while last < 3000:
                received = await heard(far)
                assert received.seq > last
                last = received.seq

    asyncio.run(scene())


@pytest.mark.postgres
@pytest.mark.parametrize("store_url", ["postgresql"], indirect=True)
def test_previews_go_on_after_the_server_was_away(company, titled, postgres_server, caplog):
    store, (here, there) = company
    made = store.create(titled("a"), "New")

    async def scene():
        with there.subscribe(made.id, 1) as far:
            here.preview(made.id, moving(1, 1))
            assert await heard(far) == moving(1, 1)
            postgres_server.stop()
            here.preview(made.id, moving(1, 2))
            await asyncio.sleep(0.1)
            postgres_server.start()
            for seq in range(3, 200):  # somebody goes on dragging
                here.preview(made.id, moving(1, seq))
                await asyncio.sleep(0.05)
                if far._waiting:
                    break
            assert (await heard(far)).seq >= 2

    asyncio.run(scene())
    assert "previews don't reach other processes" in caplog.text


@pytest.mark.postgres
@pytest.mark.parametrize("store_url", ["postgresql"], indirect=True)
def test_nonsense_on_the_channel_does_no_harm(company, titled):
    store, (here, there) = company
    made = store.create(titled("a"), "New")

    async def scene():
        with there.subscribe(made.id, 1) as far:
            here.preview(made.id, moving(1, 1))
            assert await heard(far) == moving(1, 1)
            with store.engine.begin() as connection:
                for channel in (PREVIEW_CHANNEL, "fishplate", "fishplate_pins"):
                    connection.execute(text(f"NOTIFY {channel}, 'nonsense'"))
            here.preview(made.id, moving(1, 2))
            assert await heard(far) == moving(1, 2)

    asyncio.run(scene())


@pytest.mark.parametrize("store_url", ["sqlite"], indirect=True)
def test_on_sqlite_other_processes_see_commits_only(company, titled):
    store, (here, there) = company
    made = store.create(titled("a"), "New")

    async def scene():
        with here.subscribe(made.id, 1) as near, there.subscribe(made.id, 1) as far:
            here.preview(made.id, moving(1, 1))
            assert await heard(near) == moving(1, 1)
            await nothing_from(far, 0.15)
            await asyncio.to_thread(store.save, made.id, titled("b"), 1, "Rename")
            assert await heard(far) == 2

    asyncio.run(scene())


def test_previews_are_written_into_no_table(company, titled):
    store, (here, _) = company
    made = store.create(titled("a"), "New")

    def rows():
        with store.engine.connect() as connection:
            tables = sorted(inspect(connection).get_table_names())
            return {table: connection.execute(text(f"SELECT * FROM {table}")).all() for table in tables}

    before = rows()
    here.preview(made.id, moving(1, 1))
    time.sleep(0.1)
    assert rows() == before
    assert {"document", "revision", "whatif"} <= before.keys()
