"""What-ifs: named variants of a construct, pinned on revisions that never change."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from app.case import InvalidCase, apply, parse_edit
from app.store import BadName, Changes, NameTaken, NotFound, Pins, Store, TooMany, open_engine, watch
from tests.store.versions import bring_to


def edited(case, **edit):
    return apply(case, parse_edit(edit))


@pytest.fixture
def two_bones(titled):
    case = titled("Forearm")
    return edited(case, op="add_construct", value=case.constructs[0].model_dump())


def test_a_pin_keeps_what_stands_now(store, titled):
    made = store.create(titled("a"), "New")
    whatif = store.pin(made.id, 0)
    assert (whatif.name, whatif.target, whatif.revision_id) == ("What-if 1", 0, made.revision_id)
    assert whatif.construct == made.case.constructs[0]
    changed = edited(made.case, op="set_role", hole=1, role="neutral")
    store.save(made.id, changed, 1, "Hole 2")
    second = store.pin(made.id, 0, "with a screw in hole 2")
    assert second.construct == changed.constructs[0] != whatif.construct
    assert store.whatifs(made.id) == (whatif, second)


def test_pinning_leaves_version_case_and_history_alone(store, told, titled):
    made = store.create(titled("a"), "New")
    history = store.revisions(made.id)
    whatif = store.pin(made.id, 0)
    store.rename_whatif(made.id, whatif.id, "Short plate")
    store.unpin(made.id, whatif.id)
    assert store.get(made.id) == made
    assert store.revisions(made.id) == history
    assert told.changes == [(made.id, 1)]
    assert store.import_case(made.case) == (made, False)


def test_pinning_an_older_revision(store, titled):
    made = store.create(titled("a"), "New")
    store.save(made.id, edited(made.case, op="move_plate", centre_mm=150), 1, "Move plate")
    whatif = store.pin(made.id, 0, "before", made.revision_id)
    assert whatif.construct == made.case.constructs[0]
    other = store.create(titled("other"), "New")
    with pytest.raises(NotFound, match="no such revision"):
        store.pin(made.id, 0, "elsewhere", other.revision_id)


def test_swapping_in_is_an_ordinary_edit_whose_order_of_insertion_holds(store, titled):
    made = store.create(edited(titled("a"), op="set_order", order=["s1", "h3", "h1"]), "New")
    whatif = store.pin(made.id, 0)
    bare = edited(made.case, op="set_role", hole=0, role="empty")
    assert bare.constructs[0].order == ("s1", "h3")
    saved = store.save(made.id, bare, 1, "Leave hole 1 empty")
    edit = parse_edit(whatif.swap())
    swapped = apply(saved.case, edit)
    assert swapped == made.case
    assert edit.label == "Swap in What-if 1"
    assert store.save(made.id, swapped, 2, edit.label).undo_label == "Swap in What-if 1"
    assert store.undo(made.id, 3).case == bare


def test_a_what_if_fits_only_the_bone_it_was_made_for(store, two_bones):
    made = store.create(two_bones, "New")
    whatif = store.pin(made.id, 1)
    assert whatif.fits(made.case)
    assert not whatif.fits(edited(made.case, op="remove_construct", target=1))
    assert not whatif.fits(edited(made.case, op="set_bone", target=1, bone={"name": "tibia"}))


def test_names_given_by_themselves_count_up_for_each_construct(store, two_bones):
    made = store.create(two_bones, "New")
    names = [store.pin(made.id, target).name for target in (0, 1, 0, 0)]
    assert names == ["What-if 1", "What-if 1", "What-if 2", "What-if 3"]
    store.unpin(made.id, store.whatifs(made.id)[0].id)
    assert store.pin(made.id, 0).name == "What-if 1"
    assert [w.name for w in store.whatifs(made.id)] == ["What-if 2", "What-if 3", "What-if 1", "What-if 1"]


def test_names_are_unique_for_each_construct(store, two_bones):
    made = store.create(two_bones, "New")
    first = store.pin(made.id, 0, "Bridging")
    store.pin(made.id, 1, "Bridging")
    second = store.pin(made.id, 0, "Compression")
    before = store.whatifs(made.id)
    with pytest.raises(NameTaken, match="named Bridging"):
        store.pin(made.id, 0, " Bridging ")
    with pytest.raises(NameTaken):
        store.rename_whatif(made.id, second.id, "Bridging")
    assert store.whatifs(made.id) == before
    assert store.rename_whatif(made.id, first.id, "Bridging") == first
    assert store.rename_whatif(made.id, first.id, "Longer plate").name == "Longer plate"


@pytest.mark.parametrize(
    ("given", "kept"), [("x" * 60, "x" * 60), ("  two  words ", "two  words"), ("骨折 🦴", "骨折 🦴")]
)
def test_names_as_kept(store, titled, given, kept):
    made = store.create(titled("a"), "New")
    assert store.pin(made.id, 0, given).name == kept == store.whatifs(made.id)[0].name


def test_letters_composed_in_two_ways_are_one_name(store, titled):
    made = store.create(titled("a"), "New")
    store.pin(made.id, 0, "e\N{COMBINING ACUTE ACCENT}troit")
    with pytest.raises(NameTaken):
        store.pin(made.id, 0, "\N{LATIN SMALL LETTER E WITH ACUTE}troit")


@pytest.mark.parametrize(
    "name", ["", "   ", "x" * 61, "two\nlines", "nul\x00", "<b>", "half \ud800", "turn \u202e", "\u200b"]
)
def test_names_that_cannot_be_are_refused(store, titled, name):
    made = store.create(titled("a"), "New")
    kept = store.pin(made.id, 0)
    with pytest.raises(BadName):
        store.pin(made.id, 0, name)
    with pytest.raises(BadName):
        store.rename_whatif(made.id, kept.id, name)
    assert store.whatifs(made.id) == (kept,)


@pytest.mark.parametrize("target", [1, -1, 63])
def test_a_construct_that_is_not_there_cannot_be_pinned(store, titled, target):
    made = store.create(titled("a"), "New")
    with pytest.raises(InvalidCase, match="no such entry"):
        store.pin(made.id, target)
    assert store.whatifs(made.id) == ()
    assert store.pin_counts(made.id) == {made.id: 0}


def test_what_is_not_there_is_not_found(store, titled):
    made, other = store.create(titled("a"), "New"), store.create(titled("b"), "New")
    whatif = store.pin(made.id, 0)
    for attempt in (
        lambda: store.pin("nobody", 0),
        lambda: store.whatifs("nobody"),
        lambda: store.rename_whatif(other.id, whatif.id, "x"),
        lambda: store.unpin(other.id, whatif.id),
        lambda: store.unpin(made.id, whatif.id + 1),
    ):
        with pytest.raises(NotFound):
            attempt()
    assert store.whatifs(made.id) == (whatif,)
    assert store.whatifs(other.id) == ()


def test_the_number_of_a_what_if_never_comes_back(store, titled):
    made = store.create(titled("a"), "New")
    gone = store.pin(made.id, 0)
    store.unpin(made.id, gone.id)
    assert store.pin(made.id, 0).id > gone.id


def test_deleting_a_case_takes_its_what_ifs_along(store, titled):
    made, other = store.create(titled("a"), "New"), store.create(titled("b"), "New")
    store.pin(made.id, 0)
    kept = store.pin(other.id, 0)
    store.delete(made.id)
    with pytest.raises(NotFound):
        store.whatifs(made.id)
    with store.engine.connect() as connection:
        assert connection.execute(text("SELECT id FROM whatif")).scalars().all() == [kept.id]


def test_a_copy_has_the_what_ifs_and_keeps_them_without_the_original(store, store_url, titled):
    made = store.create(titled("a"), "New")
    store.pin(made.id, 0, "as first drawn")
    moved = edited(made.case, op="move_plate", centre_mm=150)
    store.save(made.id, moved, 1, "Move plate")
    store.pin(made.id, 0, "moved")
    store.pin(made.id, 0, "moved, again")
    copy = store.duplicate(made.id, "a (copy)")
    originals = store.whatifs(made.id)
    store.delete(made.id)
    other = Store(store_url)  # nothing parsed yet
    copies = other.whatifs(copy.id)
    assert [(w.name, w.target, w.construct) for w in copies] == [(w.name, w.target, w.construct) for w in originals]
    assert copies[1].revision_id == copies[2].revision_id == copy.revision_id
    assert [(r.label, r.previous_id) for r in other.revisions(copy.id)] == [
        ("Duplicate of a", None),
        ("What-if of a", None),
    ]
    assert not other.get(copy.id).can_undo
    assert not other.get(copy.id).can_redo
    other.close()


def test_many_who_pin_at_once_all_get_a_name_of_their_own(store, titled):
    made = store.create(titled("a"), "New")
    together = Barrier(6, timeout=10)

    def attempt(_):
        together.wait()
        return store.pin(made.id, 0).name

    with ThreadPoolExecutor(6) as pool:
        names = sorted(pool.map(attempt, range(6)))
    assert names == [f"What-if {number}" for number in range(1, 7)]
    assert store.pin_counts(made.id, "nobody") == {made.id: 6}


def test_the_database_itself_refuses_a_name_twice(store, titled):
    made = store.create(titled("a"), "New")
    store.pin(made.id, 0)
    again = text(
        "INSERT INTO whatif (document_id, revision_id, target, name, created_at)"
        " SELECT document_id, revision_id, target, name, created_at FROM whatif"
    )
    with pytest.raises(IntegrityError), store.engine.begin() as connection:
        connection.execute(again)


def test_followers_in_every_process_hear_of_every_change(store, store_url, titled):
    made = store.create(titled("a"), "New")
    onlooker, changes = Store(store_url), Changes()
    watcher = watch(onlooker, changes)

    async def scene():
        with changes.subscribe(made.id, 1) as reader:

            async def heard():
                return await asyncio.wait_for(anext(reader), 10)

            whatif = await asyncio.to_thread(store.pin, made.id, 0)
            assert await heard() == Pins(1)
            await asyncio.to_thread(store.rename_whatif, made.id, whatif.id, "x")
            assert await heard() == Pins(2)
            await asyncio.to_thread(store.unpin, made.id, whatif.id)
            assert await heard() == Pins(3)
            with pytest.raises(asyncio.TimeoutError):
                await asyncio.wait_for(anext(reader), 0.15)

    asyncio.run(scene())
    watcher.close()
    onlooker.close()


def test_a_database_of_the_first_version_keeps_its_cases(empty_url, titled):
    engine = open_engine(empty_url)
    bring_to(engine, "0001")
    # As the first version wrote it: a document, two revisions, the first one current after an undo.
    bodies = {1: titled("骨折").model_dump_json(), 2: titled("b").model_dump_json()}
    with engine.begin() as connection:
        connection.execute(
            text(
                "INSERT INTO document (id, version, head_id, created_at, updated_at)"
                " VALUES ('abc', 3, 1, '2026-01-02 03:04:05', '2026-01-02 03:04:06')"
            )
        )
        for number, previous in ((1, None), (2, 1)):
            connection.execute(
                text(
                    "INSERT INTO revision (id, document_id, previous_id, title, body, content_hash, label, created_at)"
                    " VALUES (:id, 'abc', :previous, 't', :body, :hash, 'label', '2026-01-02 03:04:05')"
                ),
                {"id": number, "previous": previous, "body": bodies[number], "hash": f"{number:064x}"},
            )
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT setval(pg_get_serial_sequence('revision', 'id'), 2)"))
    store = Store(engine)
    kept = store.get("abc")
    assert (kept.version, kept.case, kept.can_undo, kept.redo_label) == (3, titled("骨折"), False, "label")
    assert [entry.version for entry in store.listing()] == [3]
    assert store.pin("abc", 0).construct == kept.case.constructs[0]
    assert store.redo("abc", 3).case == titled("b")
    assert store.save("abc", titled("c"), 4, "c").revision_id == 3
    store.close()


def test_a_case_keeps_no_more_what_ifs_than_its_file_holds(store, titled, monkeypatch):
    monkeypatch.setattr("app.store.whatifs.MAX_WHATIFS", 3)
    made = store.create(titled("a"), "New")
    for _ in range(3):
        store.pin(made.id, 0)
    with pytest.raises(TooMany, match="at most 3 what-ifs"):
        store.pin(made.id, 0)
    store.unpin(made.id, store.whatifs(made.id)[0].id)
    assert store.pin(made.id, 0).name == "What-if 1"
