"""What no honest client sends: a clear 4xx that names the field and what is allowed; the stored case untouched."""

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.cases import humerus, with_change
from tests.client import Stored

JSON = {"Content-Type": "application/json"}
LINE = "constructs.0.fracture.lines.0"

BAD_CASES = [
    ("title", "a\x00b", "title", "control"),
    ("title", "a\u2028b", "title", "control"),
    ("title", "<script>alert(1)</script>", "title", "no < or >"),
    ("title", "   ", "title", "blank"),
    ("title", "x" * 121, "title", "120"),
    ("note", "a\x07b", "note", "control"),
    ("surgeon", "someone", "surgeon", "not known here"),
    ("constructs.0.colour", "red", "constructs.0.colour", "not known here"),
    ("constructs.0.fracture.code", "12B1", "constructs.0.fracture.code", "12B2"),
    ("constructs.0.fracture.code", "12C1", "constructs.0.fracture.code", "12C2"),
    ("constructs.0.plate.centre_mm", 20, "constructs.0.plate.centre_mm", "allowed"),
    ("constructs.0.plate.centre_mm", 300, "constructs.0.plate.centre_mm", "allowed"),
    ("constructs.0.plate.holes", 8, "constructs.0", "9 entries"),
    ("constructs.0.plate.series", "golden-9", "constructs.0.plate.series", "small-3.5"),
    ("constructs.0.bone.length_mm", 900, "constructs.0.bone.length_mm", "650"),
    ("constructs.0.bone.length_mm", 60, "constructs.0.bone.length_mm", "allowed"),
    ("constructs.0.bone.name", "tail", "constructs.0.bone.name", "humerus"),
    (f"{LINE}.obliquity_deg", 80, f"{LINE}.obliquity_deg", "75"),
    (f"{LINE}.position_mm", 309, f"{LINE}.position_mm", "allowed"),
    (f"{LINE}.position_mm", "near the middle", f"{LINE}.position_mm", "number"),
    ("constructs.0.holes.0.role", "glue", "constructs.0.holes.0.role", "eccentric"),
    ("constructs", [], "constructs", "1 or more"),
    ("format", "fishplate-case/99", "format", "fishplate-case/2"),
]


@pytest.mark.parametrize("address", ["/api/v1/cases", "/api/v1/assess"])
@pytest.mark.parametrize(("path", "value", "field", "says"), BAD_CASES)
def test_a_faulty_case_is_refused_by_field_and_range(
    client: TestClient, address: str, path: str, value: object, field: str, says: str
) -> None:
    answer = client.post(address, json=with_change(path, value))
    assert answer.status_code == 422, answer.text
    body = answer.json()
    assert set(body) == {"status", "error", "faults"}
    told = {fault["path"]: fault["message"] for fault in body["faults"]}
    assert field in told
    assert says in told[field]


RAW = [
    b"",
    b"{",
    b"nothing",
    b'{"a": }',
    b"[" * 100_000,
    b'{"a":' * 50_000,
    b'{"constructs": ' + b"9" * 5_000 + b"}",
    b"\xff\xfe\x00",
    b'"\\ud800"',
    b"null",
    b"[]",
    b"3",
]


@pytest.mark.parametrize("raw", RAW, ids=range(len(RAW)))
@pytest.mark.parametrize(
    "address", ["/api/v1/cases", "/api/v1/assess", "{case}/preview", "{case}/edits", "{case}/undo"]
)
def test_bodies_that_are_no_documents(client: TestClient, stored: Stored, address: str, raw: bytes) -> None:
    path = address.format(case=stored.path)
    answer = client.post(path, content=raw, headers={**JSON, "If-Match": '"1"'})
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["error"]
    assert stored.get()["version"] == 1


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999"])
def test_numbers_that_are_none(client: TestClient, stored: Stored, number: str) -> None:
    body = f'{{"edit": {{"op": "move_fracture", "target": 0, "line": 0, "position_mm": {number}}}}}'
    for way in ("preview", "edits"):
        answer = client.post(f"{stored.path}/{way}", content=body, headers={**JSON, "If-Match": '"1"'})
        assert answer.status_code in (400, 422), answer.text
        assert "position_mm" in answer.text or "JSON" in answer.text
    view = f'{{"view": [0, {number}], "edit": null}}'
    assert client.post(f"{stored.path}/preview", content=view, headers=JSON).status_code in (400, 422)
    assert stored.get()["version"] == 1


def _too_much() -> Iterator[bytes]:
    for _ in range(100):
        yield b" " * 100_000


@pytest.mark.parametrize("told", [True, False], ids=["length told", "chunked"])
@pytest.mark.parametrize("path", ["/api/v1/cases", "/import", "/cases"])
def test_ten_megabytes_are_too_many(client: TestClient, path: str, told: bool) -> None:
    content: Any = b" " * 10_000_000 if told else _too_much()
    answer = client.post(path, content=content, headers=JSON)
    assert answer.status_code == 413
    assert "1 MB" in answer.text or "1000000 bytes" in answer.text


BAD_EDITS: list[tuple[dict[str, Any], str]] = [
    ({"op": "explode"}, "edit"),
    ({"op": "set_role", "hole": 40, "role": "lag"}, "holes.40"),
    ({"op": "set_role", "hole": 64, "role": "lag"}, "edit.set_role.hole"),
    ({"op": "set_role", "hole": 0, "role": "glue"}, "edit.set_role.role"),
    ({"op": "set_role", "target": 3, "hole": 0, "role": "lag"}, "constructs.3"),
    ({"op": "set_code", "code": "99Z9"}, "constructs.0.fracture.code"),
    ({"op": "move_plate", "centre_mm": 5}, "constructs.0.plate.centre_mm"),
    ({"op": "move_fracture", "position_mm": 650}, "constructs.0.fracture.lines.0.position_mm"),
    ({"op": "set_plate", "series": "small-3.5", "holes": 3}, "constructs.0.plate.holes"),
    ({"op": "remove_construct", "target": 0}, "constructs"),
    ({"op": "remove_line", "line": 0}, "fracture.lines"),
    ({"op": "set_title", "title": "<b>"}, "title"),
    ({"op": "together", "edits": []}, "edit.together.edits"),
    ({"op": "set_gap", "gap_mm": 1, "extra": 2}, "edit.set_gap.extra"),
]


@pytest.mark.parametrize(("edit", "field"), BAD_EDITS)
def test_an_edit_that_cannot_be_made(stored: Stored, edit: dict[str, Any], field: str) -> None:
    before = stored.get()
    for answer in (stored.edit(edit), stored.preview(edit)):
        assert answer.status_code == 422, answer.text
        assert field in [fault["path"] for fault in answer.json()["faults"]], answer.text
    assert stored.get() == before


@pytest.mark.parametrize("view", [[100, 50], [0, 5], [0, 5000], [1], "wide"])
def test_windows_that_are_none(stored: Stored, view: object) -> None:
    answer = stored.preview(None, view=view)
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["path"].startswith("view")


@pytest.mark.parametrize("case_id", ["nowhere", "0", "x" * 64])
def test_cases_that_do_not_exist(client: TestClient, case_id: str) -> None:
    path = f"/api/v1/cases/{case_id}"
    header = {"If-Match": '"1"'}
    assert client.get(path).status_code == 404
    assert client.get(f"{path}/layouts").status_code == 404
    assert client.post(f"{path}/preview", json={"edit": None}).status_code == 404
    for way, body in {"edits": {"edit": {"op": "set_gap", "gap_mm": 1}}, "undo": {}, "redo": {}}.items():
        answer = client.post(f"{path}/{way}", json=body, headers=header)
        assert answer.status_code == 404
        assert answer.json()["status"] == 404


@pytest.mark.parametrize("case_id", ["x" * 65, "a b", "a'b", "%00", "..%2f..%2fetc"])
def test_ids_that_are_none(client: TestClient, case_id: str) -> None:
    for path in (f"/api/v1/cases/{case_id}", f"/cases/{case_id}", f"/cases/{case_id}/export"):
        assert client.get(path).status_code in (404, 422)


def test_bodies_must_say_that_they_are_json(client: TestClient, stored: Stored) -> None:
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""):
        answer = client.post(f"{stored.path}/preview", content=b'{"edit": null}', headers={"Content-Type": kind})
        assert (answer.status_code, answer.json()["status"]) == (415, 415)


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
    ],
)
def test_other_sites_cannot_write(client: TestClient, stored: Stored, headers: dict[str, str]) -> None:
    for path in (
        f"/cases/{stored.id}/delete",
        f"/cases/{stored.id}/duplicate",
        "/cases",
        "/import",
        f"{stored.path}/undo",
    ):
        assert client.post(path, headers=headers).status_code == 403
    assert stored.get()["version"] == 1


def test_methods_that_an_address_does_not_take(client: TestClient, stored: Stored) -> None:
    for method in ("PUT", "PATCH", "DELETE"):
        answer = client.request(method, stored.path)
        assert answer.status_code == 405
        assert "GET" in answer.headers["Allow"]
        assert set(answer.json()) == {"status", "error", "faults"}
    assert client.delete("/api/v1/cases").headers["Allow"] == "GET, POST"


def test_the_stored_title_stays_text_in_every_page(client: TestClient) -> None:
    document = humerus(title='Arm" onload="x', note="</textarea><script>alert(1)</script>")
    case = Stored(client, document)
    page = client.get(f"/cases/{case.id}").text
    assert "<script>alert" not in page
    assert 'onload="x' not in page
    assert 'onload="x' not in client.get(f"/cases/{case.id}/drawing.svg").text
