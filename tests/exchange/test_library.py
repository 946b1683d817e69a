"""A library goes out as one zip and comes in again, once."""

import io
import json
import random
import struct
import zipfile
import zlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import app
from app.case import apply, parse_case, parse_edit
from app.catalogue import load_catalogue
from app.exchange import ImportReport, import_upload, library_zip
from app.exchange.archive import MEMBER_BYTES, MEMBERS, TOTAL_BYTES
from app.store import Store
from app.store.content import file_bytes

CATALOGUE = load_catalogue()
SAMPLE = parse_case(
    """{"format": "fishplate-case/2", "title": "Ulna",
        "constructs": [{
            "bone": {"name": "ulna"},
            "fracture": {"code": "2U2A3", "lines": [{"position_mm": 125}]},
            "principle": "compression",
            "plate": {"series": "small-3.5", "holes": 7, "centre_mm": 125},
            "holes": [{"role": "neutral"}, {"role": "neutral"}, {"role": "eccentric"}, {}, {"role": "neutral"},
                      {"role": "neutral"}, {"role": "neutral"}]}]}"""
)


def titled(title):
    return SAMPLE.model_copy(update={"title": title})


def text_of(title):
    return titled(title).model_dump_json().encode()


@pytest.fixture
def open_store(tmp_path):
    opened = []

    def make(name):
        opened.append(Store(f"sqlite:///{tmp_path}/{name}.db"))
        return opened[-1]

    yield make
    for store in opened:
        store.close()


@pytest.fixture
def store(open_store):
    return open_store("library")


def zipped(*members, method=zipfile.ZIP_DEFLATED):
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", method) as archive:
        for name, content in members:
            archive.writestr(zipfile.ZipInfo(name), content, method)
    return held.getvalue()


def taken(store, data, filename="library.zip"):
    return import_upload(store, CATALOGUE, filename, data)


def told(report):
    return [(refused.file, [str(fault) for fault in refused.faults]) for refused in report.faults]


TITLES = ("Ulna, segmental", "Ulna, segmental", "骨折", "../../etc/passwd", "index", "Ulna ÷ 2")


def test_a_library_goes_out_and_comes_into_another_place_once(open_store):
    here, there = open_store("here"), open_store("there")
    for title in TITLES:
        here.create(titled(title), "New")
    packed = library_zip(here)
    first = taken(there, packed)
    assert first.faults == ()
    assert len(first.created) == len(set(TITLES))  # two were the same case
    assert len(first.known) == 1
    second = taken(there, packed)
    assert (second.created, len(second.known)) == ((), len(TITLES))
    assert sorted(entry.title for entry in there.listing()) == sorted(set(TITLES))
    assert taken(here, packed).created == ()
    for one in first.created:
        assert there.get(one.document_id).case == titled(one.title)


def test_the_zip_is_one_that_others_read_and_the_same_each_time(store, tmp_path):
    ids = {store.create(titled(title), "New").id: title for title in TITLES}
    packed = library_zip(store)
    assert packed == library_zip(store)
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        index = json.loads(archive.read("index.json"))
        assert len(names) == len(set(names)) == len(TITLES) + 1
        assert index["format"] == "fishplate-library/1"
        assert sorted(names) == sorted(["index.json", *(entry["file"] for entry in index["cases"])])
        for entry in index["cases"]:
            case = parse_case(archive.read(entry["file"]))
            document_id = entry["file"].removesuffix(".json").rpartition("-")[2]
            assert case.title == entry["title"] == ids[document_id]
            assert "/" not in entry["file"]


def test_an_empty_library_is_a_zip_with_an_empty_index(store):
    packed = library_zip(store)
    assert taken(store, packed) == ImportReport()


def test_a_changed_case_is_another_one(store):
    store.create(titled("a"), "New")
    packed = library_zip(store)
    made = store.listing()[0]
    store.save(made.id, titled("b"), made.version, "Rename")
    report = taken(store, packed)
    assert [one.title for one in report.created] == ["a"]
    assert len(store.listing()) == 2


def test_one_case_file(store):
    report = taken(store, text_of("a"), "a.json")
    assert [(one.file, one.title) for one in report.created] == [("a.json", "a")]
    again = taken(store, titled("a").model_dump_json(indent=3).encode(), "other.json")
    assert (again.created, [one.document_id for one in again.known]) == ((), [report.created[0].document_id])


def test_a_case_file_of_the_older_format(store):
    today = json.loads(text_of("a"))
    older = {"format": "fishplate-case/0", "title": "a", "construct": today["constructs"][0], "quality": "normal"}
    assert len(taken(store, json.dumps(older).encode(), "older.json").created) == 1
    assert len(taken(store, text_of("a"), "today.json").known) == 1


def test_shipped_samples_come_in(store):
    samples = sorted((Path(app.__file__).parents[1] / "sample_cases").glob("*.json"))
    report = taken(store, zipped(*((file.name, file.read_bytes()) for file in samples)))
    assert told(report) == []
    assert [one.file for one in report.created] == [file.name for file in samples] != []


def test_faulty_files_are_told_and_keep_no_others_out(store):
    off_the_bone = json.loads(text_of("off"))
    off_the_bone["constructs"][0]["plate"]["centre_mm"] = 3
    report = taken(
        store,
        zipped(
            ("a.json", text_of("a")),
            ("broken.json", b"{"),
            ("empty.json", b""),
            ("wrong.json", b'{"format": "fishplate-case/2", "title": "x", "constructs": []}'),
            ("off.json", json.dumps(off_the_bone).encode()),
            ("z.json", text_of("z")),
        ),
    )
    assert [one.title for one in report.created] == ["a", "z"]
    faults = dict(told(report))
    assert list(faults) == ["broken.json", "empty.json", "wrong.json", "off.json"]
    assert "not valid JSON" in faults["broken.json"][0]
    assert faults["wrong.json"][0].startswith("constructs")
    assert "plate" in faults["off.json"][0]
    assert len(store.listing()) == 2


def test_whether_it_is_a_zip_is_told_by_the_content(store):
    assert len(taken(store, zipped(("a.json", text_of("a"))), "a.json").created) == 1
    assert len(taken(store, text_of("b"), "b.zip").created) == 1


def test_folders_are_read_and_all_but_case_files_is_passed_over(store):
    report = taken(
        store,
        zipped(
            ("cases/a.json", text_of("a")),
            ("cases/", b""),
            ("cases/deeper/b.JSON", text_of("b")),
            ("nested.zip", zipped(("c.json", text_of("c")))),
            ("picture.png", b"\x89PNG"),
            ("__MACOSX/cases/._a.json", b"\x00\x05"),
            (".hidden.json", b"{"),
        ),
    )
    assert [one.file for one in report.created] == ["cases/a.json", "cases/deeper/b.JSON"]
    assert report.faults == ()


def test_a_zip_without_case_files_says_so(store):
    assert told(taken(store, zipped(("a.txt", b"x")))) == [("library.zip", ["no case file in the archive"])]
    assert told(taken(store, zipped())) == [("library.zip", ["no case file in the archive"])]


@pytest.mark.parametrize(
    "name", ["../a.json", "/a.json", "x/../../a.json", "..\\a.json", "C:\\a.json", "c:a.json", "\\\\there\\a.json",
             "a.json\x00.txt"],
)  # fmt: skip
def test_names_that_lead_out_refuse_the_whole_archive(store, name):
    packed = zipped(("good.json", text_of("good")), ("N" * len(name), text_of("bad")))
    packed = packed.replace(b"N" * len(name), name.encode())
    ((file, (message,)),) = told(taken(store, packed))
    assert file == "library.zip"
    assert "leads out of the archive" in message
    assert store.listing() == ()


def test_a_link_is_passed_over(store):
    link = zipfile.ZipInfo("link.json")
    link.external_attr = 0o120777 << 16
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr(link, "/etc/passwd")
        archive.writestr("a.json", text_of("a"))
    report = taken(store, held.getvalue())
    assert [one.file for one in report.created] == ["a.json"]
    assert report.faults == ()


def test_as_many_files_as_allowed_and_one_more(store):
    many = [(f"{number}.txt", b"") for number in range(MEMBERS - 1)]
    assert len(taken(store, zipped(("a.json", text_of("a")), *many)).created) == 1
    ((_, (message,)),) = told(taken(store, zipped(("b.json", text_of("b")), *many, ("more.txt", b""))))
    assert message == f"the archive holds {MEMBERS + 1} files; at most {MEMBERS} are read"
    assert len(store.listing()) == 1


def padded(title, size):
    text = text_of(title)
    return text + b" " * (size - len(text))


def test_as_large_a_file_as_allowed_and_one_byte_more(store):
    assert len(taken(store, padded("a", MEMBER_BYTES), "a.json").created) == 1
    assert told(taken(store, padded("b", MEMBER_BYTES + 1), "b.json")) == [("b.json", ["larger than 1 MB"])]
    packed = zipped(("c.json", padded("c", MEMBER_BYTES)), ("d.json", padded("d", MEMBER_BYTES + 1)))
    report = taken(store, packed)
    assert [one.title for one in report.created] == ["c"]
    assert told(report) == [("d.json", ["larger than 1 MB"])]


def test_an_archive_that_unpacks_to_too_much_is_refused(store):
    packed = zipped(
        *((f"{number}.json", b"0" * MEMBER_BYTES) for number in range(TOTAL_BYTES // MEMBER_BYTES)), ("more.json", b"0")
    )
    assert len(packed) < 200_000  # a thousandth of what it unpacks to
    assert told(taken(store, packed)) == [("library.zip", ["unpacked, the archive has more than 50 MB"])]


def lying(content, claimed):
    """A zip whose one member claims another size than it unpacks to."""
    name = b"a.json"
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = packer.compress(content) + packer.flush()
    common = struct.pack("<HHHHHLLLHH", 20, 0, 8, 0, 0x21, zlib.crc32(content), len(packed), claimed, len(name), 0)
    local = b"PK\x03\x04" + common + name + packed
    central = b"PK\x01\x02" + struct.pack("<H", 20) + common + struct.pack("<HHHLL", 0, 0, 0, 0, 0) + name
    return local + central + b"PK\x05\x06" + struct.pack("<HHHHLLH", 0, 0, 1, 1, len(central), len(local), 0)


def test_a_member_that_claims_its_true_size_is_read(store):
    text = text_of("a")
    assert len(taken(store, lying(text, len(text))).created) == 1


@pytest.mark.parametrize("claimed", [0, 10, 999_999])
def test_a_member_that_unpacks_to_more_than_it_claims_is_not_kept(store, claimed):
    report = taken(store, lying(padded("bomb", 5_000_000), claimed))
    assert told(report) == [("a.json", ["damaged"])]
    assert store.listing() == ()


def test_packings_that_could_hide_more_are_not_unpacked(store):
    report = taken(store, zipped(("a.json", text_of("a")), method=zipfile.ZIP_LZMA))
    assert told(report) == [("a.json", ["packed in a way that isn't read here; deflate is"])]


def test_an_encrypted_member_is_told(store):
    packed = bytearray(zipped(("a.json", text_of("a"))))
    for signature, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        packed[packed.index(signature) + offset] |= 1
    assert told(taken(store, bytes(packed))) == [("a.json", ["encrypted"])]


def test_a_damaged_archive_is_told_whole_or_in_part(store):
    packed = zipped(("a.json", text_of("a")))
    assert told(taken(store, packed[:-30])) == [("library.zip", ["the file is not a whole zip archive"])]
    hurt = bytearray(packed)
    hurt[60] ^= 0xFF
    assert told(taken(store, bytes(hurt))) == [("a.json", ["damaged"])]


PACKED = zipped(("a.json", text_of("a")), ("b.json", text_of("b")))


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 2**32))
def test_no_damage_breaks_the_import(store, seed):
    chance = random.Random(seed)
    hurt = bytearray(PACKED)
    for _ in range(chance.randint(1, 6)):
        hurt[chance.randrange(len(hurt))] = chance.randrange(256)
    if chance.random() < 0.3:
        del hurt[chance.randrange(len(hurt)) :]
    report = taken(store, bytes(hurt))
    assert all(one.title in ("a", "b") for one in (*report.created, *report.known))
    assert report != ImportReport()


@pytest.mark.parametrize("data", [b"", b"PK", b"PK\x03\x04", b"\xff\xfe", b"[" * 100_000, b'"\\ud800"', b"null"])
def test_what_is_neither_case_nor_zip_is_refused(store, data):
    report = taken(store, data, "x.json")
    assert [refused.file for refused in report.faults] == ["x.json"]
    assert store.listing() == ()


def with_whatifs(store):
    """A document with three what-ifs: as it was, as it is, and one of a bone that was taken out again."""
    made = store.create(titled("Both bones"), "New")
    store.pin(made.id, 0, "As begun")
    radius = {**json.loads(SAMPLE.model_dump_json())["constructs"][0], "bone": {"name": "radius", "side": "left"}}
    edits = (
        {"op": "set_role", "hole": 3, "role": "neutral"},
        {"op": "add_construct", "value": {**radius, "fracture": {"lines": [{"position_mm": 125}]}}},
        {"op": "remove_construct", "target": 1},
    )
    for version, edit in enumerate(edits, 1):
        saved = store.save(made.id, apply(store.get(made.id).case, parse_edit(edit)), version, edit["op"])
        if edit["op"] == "add_construct":
            store.pin(made.id, 1, "The radius, too")
    store.pin(made.id, 0, "Filled ½")
    return saved


def whatifs_of(store, document_id):
    return sorted((one.target, one.name, one.construct) for one in store.whatifs(document_id))


def test_what_ifs_travel_in_the_file_and_stand_beside_the_history(open_store):
    here, there = open_store("here"), open_store("there")
    made = with_whatifs(here)
    (entry,) = [name for name in zipfile.ZipFile(io.BytesIO(library_zip(here))).namelist() if name != "index.json"]
    file = zipfile.ZipFile(io.BytesIO(library_zip(here))).read(entry)
    assert [one["name"] for one in json.loads(file)["whatifs"]] == ["As begun", "Filled ½", "The radius, too"]
    (taken_in,) = taken(there, file, "case.json").created
    kept = there.get(taken_in.document_id)
    assert (kept.case, kept.can_undo, kept.can_redo) == (made.case, False, False)
    assert kept.case.whatifs == ()
    assert whatifs_of(there, kept.id) == whatifs_of(here, made.id)
    _, again = there.whole(kept.id)
    assert again == parse_case(file)


def test_a_file_of_a_known_case_adds_the_what_ifs_that_are_lacking(open_store):
    here, there = open_store("here"), open_store("there")
    made = with_whatifs(here)
    _, case = here.whole(made.id)
    twin = there.create(made.case, "New")
    there.pin(twin.id, 0, "As begun")  # another construct under a name that the file uses as well
    for _ in range(2):
        (known,) = taken(there, file_bytes(case), "case.json").known
        assert known.document_id == twin.id
        names = [(target, name) for target, name, _ in whatifs_of(there, twin.id)]
        assert names == [(0, "As begun"), (0, "As begun 2"), (1, "The radius, too")]
    assert there.get(twin.id).version == twin.version


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"name": "As\nbegun"}, "whatifs.0.name"),
        ({"name": " "}, "whatifs.0.name"),
        ({"name": "x" * 61}, "whatifs.0.name"),
        ({"name": "Filled ½"}, "whatifs"),
        ({"target": 4}, "whatifs.0.target"),
        ({"value": {"bone": {"name": "ulna"}}}, "whatifs.0.value.fracture"),
    ],
)
def test_a_faulty_what_if_is_told_by_its_place(store, change, path):
    made = with_whatifs(store)
    document = json.loads(file_bytes(store.whole(made.id)[1]))
    document["whatifs"][0] |= change
    ((_, faults),) = told(taken(store, json.dumps(document).encode(), "case.json"))
    assert any(fault.startswith(f"{path}: ") for fault in faults), faults


def test_a_what_if_that_the_stock_cannot_make_is_refused(store):
    made = with_whatifs(store)
    document = json.loads(file_bytes(store.whole(made.id)[1]))
    document["whatifs"][0]["value"]["plate"]["series"] = "huge-9.9"
    ((_, (fault,)),) = told(taken(store, json.dumps(document).encode(), "case.json"))
    assert fault.startswith("whatifs.0.value.plate.series: no such series")


def test_twins_in_one_upload_are_kept_once_and_the_report_says_which(open_store):
    here, there = open_store("here"), open_store("there")
    made = with_whatifs(here)
    _, whole = here.whole(made.id)
    bare = file_bytes(made.case)
    report = taken(there, zipped(("a.json", bare), ("b.json", bare), ("c.json", file_bytes(whole))))
    assert [(one.file, one.twin) for one in report.created] == [("a.json", "")]
    assert [(one.file, one.twin, one.whatifs) for one in report.known] == [
        ("b.json", "a.json", 0),
        ("c.json", "a.json", len(whole.whatifs)),
    ]
    again = taken(there, zipped(("d.json", bare)))
    assert [(one.file, one.twin, one.whatifs) for one in again.known] == [("d.json", "", 0)]


def test_the_history_goes_out_on_request_and_is_passed_over_coming_in(open_store):
    here, there = open_store("here"), open_store("there")
    made = here.create(titled("first"), "New")
    here.save(made.id, titled("second"), 1, "Rename")
    here.undo(made.id, 2)
    assert not [name for name in zipfile.ZipFile(io.BytesIO(library_zip(here))).namelist() if "history" in name]
    data = library_zip(here, history=True)
    archive = zipfile.ZipFile(io.BytesIO(data))
    (name,) = [one for one in archive.namelist() if one.startswith("history/")]
    lines = [json.loads(line) for line in archive.read(name).splitlines()]
    ids = [one.id for one in here.revisions(made.id)]
    assert [(one["revision"], one["after"], one["label"], one["current"]) for one in lines] == [
        (ids[0], None, "New", True),
        (ids[1], ids[0], "Rename", False),
    ]
    assert [parse_case(json.dumps(one["case"])) for one in lines] == [titled("first"), titled("second")]
    report = taken(there, data)
    assert (len(report.created), report.known, report.faults) == (1, (), ())
