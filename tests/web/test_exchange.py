"""Files out and in, through the pages' own routes."""

import io
import json
import struct
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.exchange.archive import MEMBERS
from app.samples import load_samples
from app.web.http.headers import MAX_UPLOAD_BYTES
from tests.cases import humerus
from tests.client import Stored
from tests.entrance import new_case, serving


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestClient]:
    with serving(tmp_path) as client:
        yield client


def upload(client: TestClient, content: bytes, name: str = "library.zip") -> Any:
    return client.post("/import", files={"file": (name, content)})


def zipped(**members: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name, content in members.items():
            archive.writestr(f"{name}.json", content)
    return held.getvalue()


def cases(client: TestClient) -> list[dict[str, Any]]:
    found = [
        client.get(f"/api/v1/cases/{one['id']}").json()["case"] for one in client.get("/api/v1/cases").json()["cases"]
    ]
    return sorted(found, key=lambda case: json.dumps(case, sort_keys=True))


def test_a_library_goes_out_and_comes_in_once(empty: TestClient, tmp_path: Path) -> None:
    for sample in load_samples():
        assert empty.post("/cases", data={"sample": sample.key}).status_code == 303
    answer = empty.get("/library.zip")
    assert answer.headers["content-type"] == "application/zip"
    assert "attachment" in answer.headers["content-disposition"]
    with serving(tmp_path / "other") as other:
        report = upload(other, answer.content)
        assert report.status_code == 200
        assert f"{len(load_samples())} new, 0 there already, 0 left out" in report.text
        assert cases(other) == cases(empty)
        again = upload(other, answer.content)
        assert f"0 new, {len(load_samples())} there already" in again.text
        assert cases(other) == cases(empty)


def test_faulty_files_are_told_and_keep_nobody_out(empty: TestClient) -> None:
    off_bone = humerus()
    off_bone["constructs"][0]["plate"]["centre_mm"] = 10
    packed = zipped(good=json.dumps(humerus()).encode(), bad=b"{", off=json.dumps(off_bone).encode())
    report = upload(empty, packed)
    assert report.status_code == 200
    assert "1 new, 0 there already, 2 left out" in report.text
    assert "plate.centre_mm" in report.text
    assert empty.get("/api/v1/cases").json()["total"] == 1


@pytest.mark.parametrize("content", [zipped(), zipped(a=b"{}"), b"PK\x03\x04 and no more"])
def test_a_zip_with_nothing_to_keep(empty: TestClient, content: bytes) -> None:
    answer = upload(empty, content)
    assert answer.status_code == 422
    assert "0 new" in answer.text


def test_names_in_a_report_are_text(empty: TestClient) -> None:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("<script>alert(1)<-script>.json", b"{")
    answer = upload(empty, held.getvalue())
    assert "<script>alert" not in answer.text
    assert "&lt;script&gt;" in answer.text


def test_a_large_library_may_be_sent_and_a_larger_one_not(empty: TestClient) -> None:
    padding = b" " * 2_000_000
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("note.txt", padding)
        archive.writestr("a.json", json.dumps(humerus()))
    assert len(held.getvalue()) > 2_000_000
    assert upload(empty, held.getvalue()).status_code == 200
    assert upload(empty, b"x" * (MAX_UPLOAD_BYTES + 1)).status_code == 413
    # Only the form that takes libraries in may send so much.
    answer = empty.post("/cases", files={"file": ("a", padding)})
    assert answer.status_code == 413


def test_a_library_fits_into_what_one_archive_may_hold(empty: TestClient) -> None:
    packed = zipped(**{f"c{n}": json.dumps(humerus(title=f"No. {n}")).encode() for n in range(600)})
    assert "600 new" in upload(empty, packed).text
    out = empty.get("/library.zip").content
    assert len(zipfile.ZipFile(io.BytesIO(out)).namelist()) == 601 <= MEMBERS
    assert "0 new, 600 there already, 0 left out" in upload(empty, out).text


def test_the_picture_is_a_png_of_the_width_asked_for(client: TestClient, stored: Stored) -> None:
    """PNG (third edition), section 11.2.1: width and height are the first eight bytes of IHDR."""
    for width in (320, 1600):
        answer = client.get(f"/cases/{stored.id}/drawing.png?width={width}")
        assert answer.headers["content-type"] == "image/png"
        assert answer.headers["content-disposition"].endswith('.png"')
        assert answer.content.startswith(b"\x89PNG\r\n\x1a\n")
        wide, high = struct.unpack(">II", answer.content[16:24])
        assert wide == width
        assert 0.3 < high / wide < 1.6


@pytest.mark.parametrize("width", ["99", "4001", "-1", "x", "1e3"])
def test_no_picture_of_another_width(client: TestClient, stored: Stored, width: str) -> None:
    assert client.get(f"/cases/{stored.id}/drawing.png?width={width}").status_code == 422


def test_an_empty_library_is_a_zip_too(empty: TestClient) -> None:
    assert zipfile.ZipFile(io.BytesIO(empty.get("/library.zip").content)).namelist() == ["index.json"]
    assert 'href="/library.zip"' not in empty.get("/").text
    new_case(empty)
    assert 'href="/library.zip"' in empty.get("/").text
