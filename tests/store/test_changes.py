"""Word of a change: within the process, between processes, and after the database went away."""

import asyncio
import time
from contextlib import contextmanager
from threading import Thread

import pytest

from app.store import GONE, Changes, Store, watch

WITHIN_S = 10


async def following(reader):
    return await asyncio.wait_for(anext(reader), WITHIN_S)


@contextmanager
def watching(store_url):
    """A process that only looks on."""
    store, changes = Store(store_url), Changes()
    watcher = watch(store, changes)
    try:
        yield store, changes
    finally:
        watcher.close()
        changes.close()
        store.close()


def test_a_reader_hears_of_its_own_document_only():
    async def scene():
        changes = Changes()
        with changes.subscribe("a") as reader:
            changes.publish("b", 7)
            changes.publish("a", 2)
            assert await following(reader) == 2
            with pytest.raises(asyncio.TimeoutError):
                await asyncio.wait_for(anext(reader), 0.05)

    asyncio.run(scene())


def test_a_slow_reader_gets_the_newest_only_and_none_twice():
    async def scene():
        changes = Changes()
        with changes.subscribe("a", after=3) as reader:
            for version in (2, 3, 4, 6, 5, 6):
                changes.publish("a", version)
            await asyncio.sleep(0)
            assert await following(reader) == 6
            changes.publish("a", 6)
            changes.publish("a", 7)
            assert await following(reader) == 7

    asyncio.run(scene())


def test_publishing_from_another_thread_wakes_the_reader():
    async def scene():
        changes = Changes()
        with changes.subscribe("a") as reader:
            waiting = asyncio.create_task(anext(reader))
            await asyncio.sleep(0.01)
            thread = Thread(target=changes.publish, args=("a", 5))
            thread.start()
            assert await asyncio.wait_for(waiting, WITHIN_S) == 5
            thread.join()

    asyncio.run(scene())


def test_leaving_cleans_up():
    async def scene():
        changes = Changes()
        with changes.subscribe("a") as one, changes.subscribe("a"):
            one.close()
            assert changes.followed() == ("a",)
        assert changes.followed() == ()
        with pytest.raises(StopAsyncIteration):
            await anext(one)

    asyncio.run(scene())


def test_a_reader_cancelled_while_waiting_cleans_up():
    changes = Changes()

    async def read():
        with changes.subscribe("a") as reader:
            async for _ in reader:
                pass

    async def scene():
        task = asyncio.create_task(read())
        await asyncio.sleep(0.01)
        assert changes.followed() == ("a",)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    asyncio.run(scene())
    assert changes.followed() == ()


@pytest.mark.parametrize("end", [lambda changes: changes.close(), lambda changes: changes.publish("a", GONE)])
def test_closing_and_deleting_end_the_stream(end):
    async def scene():
        changes = Changes()

        async def read():
            with changes.subscribe("a") as reader:
                return [version async for version in reader]

        task = asyncio.create_task(read())
        await asyncio.sleep(0.01)
        changes.publish("a", 2)
        await asyncio.sleep(0.01)
        end(changes)
        assert await asyncio.wait_for(task, WITHIN_S) == [2]
        assert changes.followed() == ()

    asyncio.run(scene())


def test_a_reader_whose_loop_is_gone_is_dropped():
    changes = Changes()

    async def scene():
        changes.subscribe("a")

    asyncio.run(scene())
    changes.publish("a", 2)
    assert changes.followed() == ()


def test_the_store_tells_its_own_process(store_url, titled):
    changes = Changes()
    store = Store(store_url, changes.publish)

    async def scene():
        made = store.create(titled("a"), "New")
        with changes.subscribe(made.id, made.version) as reader:
            await asyncio.to_thread(store.save, made.id, titled("b"), 1, "Rename")
            assert await following(reader) == 2
            await asyncio.to_thread(store.undo, made.id, 2)
            assert await following(reader) == 3

    asyncio.run(scene())
    store.close()


def test_another_process_hears_every_kind_of_write(store, store_url, titled):
    made = store.create(titled("a"), "New")

    async def scene(changes):
        with changes.subscribe(made.id, 1) as reader:
            store.save(made.id, titled("b"), 1, "Rename")
            assert await following(reader) == 2
            store.undo(made.id, 2)
            assert await following(reader) == 3
            store.redo(made.id, 3)
            assert await following(reader) == 4
            store.delete(made.id)
            with pytest.raises(StopAsyncIteration):
                await following(reader)

    with watching(store_url) as (_, changes):
        asyncio.run(scene(changes))


def test_readers_hear_nothing_of_a_write_that_failed(store, store_url, titled):
    made = store.create(titled("a"), "New")

    async def scene(changes):
        with changes.subscribe(made.id, 1) as reader:
            with pytest.raises(Exception, match="nothing to undo"):
                store.undo(made.id, 1)
            with pytest.raises(asyncio.TimeoutError):
                await asyncio.wait_for(anext(reader), 0.4)

    with watching(store_url) as (_, changes):
        asyncio.run(scene(changes))


def test_sqlite_is_not_asked_while_nobody_follows(sqlite_url, titled, monkeypatch):
    asked = []
    monkeypatch.setattr(Store, "versions", lambda _, *ids: asked.append(ids) or dict.fromkeys(ids, 1))
    with watching(sqlite_url) as (_, changes):
        time.sleep(0.35)
        assert asked == []

        async def scene():
            with changes.subscribe("a"):
                await asyncio.sleep(0.35)

        asyncio.run(scene())
        assert 1 <= len(asked) <= 8
        assert set(asked) == {("a",)}


def test_the_watcher_stops_soon(store_url):
    with watching(store_url):
        began = time.monotonic()
    assert time.monotonic() - began < 5


@pytest.mark.postgres
def test_a_lost_connection_is_made_again_and_what_was_missed_is_told(
    postgres_server, postgres_url, titled, caplog, monkeypatch
):
    monkeypatch.setattr("app.store.probe.HELD_S", 0.0)
    store = Store(postgres_url)
    made = store.create(titled("a"), "New")

    async def scene(changes):
        with changes.subscribe(made.id, 1) as reader:
            store.save(made.id, titled("b"), 1, "Rename")
            assert await following(reader) == 2
            postgres_server.stop()
            assert store.trouble().cause == "silent"
            postgres_server.start()
            assert store.trouble() is None
            store.save(made.id, titled("c"), 2, "Rename")  # the listener may not be back yet
            assert await following(reader) == 3
            await asyncio.sleep(0.5)
            store.save(made.id, titled("d"), 3, "Rename")
            assert await following(reader) == 4

    with watching(postgres_url) as (_, changes):
        asyncio.run(scene(changes))
    store.close()
    assert "not hearing of changes" in caplog.text
