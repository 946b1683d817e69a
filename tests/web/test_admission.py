"""Who is let in, and to what."""

import re
import stat
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.web.access.gate import FOLLOW, own_address
from app.web.access.permissions import Owner, Reader, may
from app.web.access.throttle import TRIES_EACH
from app.web.access.tokens import READER_S, SESSION_S, Keys, UnfitPhrase, fit_phrase, load_secret
from tests.entrance import PHRASE, WRITES, addresses, first_answer, new_case, serving, sign_in

OPEN = {"/signin", "/health/live", "/health/ready"}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with serving(tmp_path, PHRASE) as started:
        yield started


class Parts(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        wanted = {"link": "href", "script": "src", "img": "src"}.get(tag)
        self.found += [value for name, value in attrs if name == wanted and value]


def token_of(client: TestClient, case_id: str) -> str:
    answer = client.post(f"/api/v1/cases/{case_id}/reader-link")
    assert answer.status_code == 201, answer.text
    return str(answer.json()["path"]).removeprefix(FOLLOW)


# Without a pass


def test_without_the_phrase_only_signing_in_and_health_answer(client: TestClient) -> None:
    sign_in(client)
    case_id = new_case(client)
    client.cookies.clear()
    for path in [path for path in addresses(client.app, case_id) if path not in OPEN]:
        for method in ("GET", "HEAD", "OPTIONS", *WRITES):
            answer = client.request(method, path)
            if path.startswith("/api/") or method not in ("GET", "HEAD"):
                assert answer.status_code == 401, f"{method} {path}"
                assert answer.headers["www-authenticate"]
            else:
                assert answer.status_code == 303, f"{method} {path}"
                assert answer.headers["location"].startswith("/signin?then=%2F")


def test_an_api_refusal_has_the_one_error_shape(client: TestClient) -> None:
    answer = client.get("/api/v1/cases")
    assert answer.json() == {"status": 401, "error": "Sign in first.", "faults": []}


def test_what_is_open_answers(client: TestClient) -> None:
    assert client.get("/signin").status_code == 200
    assert client.get("/health/live").status_code == 200
    assert client.get("/health/ready").status_code == 200


def test_the_sign_in_page_is_complete_and_nothing_else_of_static_is_open(client: TestClient) -> None:
    parts = Parts(client.get("/signin").text).found
    assert any(part.endswith(".css") for part in parts)
    assert all(client.get(part).status_code == 200 for part in parts)
    folder = Path(__file__).parents[2] / "static"
    files = {f"/static/{file.relative_to(folder).as_posix()}" for file in folder.rglob("*") if file.is_file()}
    assert {path for path in files if client.get(path).status_code == 200} == set(parts)


@pytest.mark.parametrize("path", ["/nothing", "/api/v1/nothing", "/signin/x", "/health/live/x", "/static/css/../css"])
def test_it_does_not_tell_what_exists(client: TestClient, path: str) -> None:
    assert client.get(path).status_code in (303, 401)


def test_a_page_comes_back_after_signing_in(client: TestClient) -> None:
    sent = client.get("/rules?a=1&b=%C3%A9").headers["location"]
    page = client.get(sent).text
    then = re.search(r'name="then" value="([^"]*)"', page)
    assert then is not None
    wanted = then.group(1).replace("&amp;", "&")
    answer = client.post("/signin", data={"phrase": PHRASE, "then": wanted})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/rules?a=1&b=%C3%A9"
    assert client.get(answer.headers["location"]).status_code == 200


@pytest.mark.parametrize(
    "address",
    ["//elsewhere.example", "/\\elsewhere.example", "https://elsewhere.example", "javascript:alert(1)", "", "rules",
     "/a\r\nSet-Cookie: x=1", "/ x"],
)  # fmt: skip
def test_signing_in_leads_nowhere_else(client: TestClient, address: str) -> None:
    assert own_address(address) == "/"
    assert client.post("/signin", data={"phrase": PHRASE, "then": address}).headers["location"] == "/"


def test_a_websocket_is_refused(client: TestClient) -> None:
    from starlette.websockets import WebSocketDisconnect

    with pytest.raises(WebSocketDisconnect) as refused, client.websocket_connect("/"):
        pass
    assert refused.value.code == 1008


# The phrase and its cookie


def test_the_phrase_opens_everything(client: TestClient) -> None:
    sign_in(client)
    case_id = new_case(client)
    assert client.get(f"/cases/{case_id}").status_code == 200
    assert client.get("/api/v1/cases").status_code == 200
    assert client.get("/static/css/drawing.css").status_code == 200


@pytest.mark.parametrize("phrase", ["", PHRASE[:-1], PHRASE + " ", PHRASE.upper(), "é" * 40, "\x00" * 12])
def test_another_phrase_opens_nothing(client: TestClient, phrase: str) -> None:
    answer = client.post("/signin", data={"phrase": phrase})
    assert answer.status_code in (403, 422)
    assert "set-cookie" not in answer.headers
    assert client.get("/api/v1/cases").status_code == 401


def test_the_cookie_is_kept_from_scripts_and_other_sites(client: TestClient) -> None:
    # RFC 6265 section 4.1.2 (HttpOnly, Max-Age, Path), its revision RFC 6265bis (SameSite).
    given = client.post("/signin", data={"phrase": PHRASE}).headers.get_list("set-cookie")
    (cookie,) = [one.lower() for one in given if one.startswith("fishplate=")]
    parts = {part.strip() for part in cookie.split(";")}
    assert {"httponly", "samesite=lax", "path=/", f"max-age={SESSION_S}"} <= parts
    assert "secure" not in parts
    assert not any(part.startswith("domain") for part in parts)
    assert PHRASE not in cookie


def test_over_https_the_cookie_stays_there(client: TestClient) -> None:
    answer = client.post("https://127.0.0.1/signin", data={"phrase": PHRASE})
    assert "; secure" in answer.headers["set-cookie"].lower()


def test_signing_out_takes_the_cookie(client: TestClient) -> None:
    sign_in(client)
    assert "Sign out" in client.get("/signin").text
    assert client.post("/signout").status_code == 303
    assert client.get("/api/v1/cases").status_code == 401


def test_a_cookie_bent_at_any_place_is_none(client: TestClient) -> None:
    sign_in(client)
    value = client.cookies["fishplate"]
    client.cookies.clear()
    for at in range(len(value) - 1):  # the last character carries two unused bits
        bent = value[:at] + ("A" if value[at] != "A" else "B") + value[at + 1 :]
        assert client.get("/api/v1/cases", headers={"cookie": f"fishplate={bent}"}).status_code == 401, at
    assert client.get("/api/v1/cases", headers={"cookie": f"fishplate={value}"}).status_code == 200


@pytest.mark.parametrize("value", ["", ".", "..", "owner", "owner.9999999999", "owner.9999999999.", "é.é.é", "a.b.c.d"])
def test_rubbish_is_no_cookie(client: TestClient, value: str) -> None:
    answer = client.get("/api/v1/cases", headers={"cookie": f"fishplate={value}".encode("latin-1")})
    assert answer.status_code == 401


def test_restarts_and_workers_agree_and_another_phrase_ends_it(tmp_path: Path) -> None:
    with serving(tmp_path, PHRASE) as first, serving(tmp_path, PHRASE) as second:
        sign_in(first)
        cookie = {"cookie": f"fishplate={first.cookies['fishplate']}"}
        assert second.get("/api/v1/cases", headers=cookie).status_code == 200
    with serving(tmp_path, PHRASE) as third:
        assert third.get("/api/v1/cases", headers=cookie).status_code == 200
    with serving(tmp_path, PHRASE + " anew") as changed:
        assert changed.get("/api/v1/cases", headers=cookie).status_code == 401


def test_without_a_phrase_nobody_is_asked(tmp_path: Path) -> None:
    with serving(tmp_path) as client:
        assert client.get("/").status_code == 200
        assert client.get("/signin").headers["location"] == "/"
        new_case(client)


def test_after_too_many_tries_even_the_right_phrase_waits(client: TestClient) -> None:
    for _ in range(TRIES_EACH):
        assert client.post("/signin", data={"phrase": "the wrong phrase"}).status_code == 403
    answer = client.post("/signin", data={"phrase": PHRASE})
    assert answer.status_code == 429
    assert 0 < int(answer.headers["retry-after"]) <= 300
    assert "set-cookie" not in answer.headers


def test_the_right_phrase_clears_the_count(client: TestClient) -> None:
    for _ in range(TRIES_EACH + 5):
        sign_in(client)


@pytest.mark.parametrize("headers", [{"origin": "http://elsewhere.example"}, {"origin": "null"},
                                     {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"}])  # fmt: skip
def test_other_sites_write_nothing_even_with_the_cookie(client: TestClient, headers: dict[str, str]) -> None:
    sign_in(client)
    case_id = new_case(client)
    for path in addresses(client.app, case_id):
        for method in WRITES:
            assert client.request(method, path, headers=headers).status_code == 403, f"{method} {path}"


def test_the_policy_on_referrers_leaves_our_own_forms_their_origin(client: TestClient) -> None:
    # Fetch standard, "append a request Origin header": with no-referrer a form posts "Origin: null"; with same-origin
    # it names its origin to its own site and to nobody else. Browsers send no Sec-Fetch-Site over plain http.
    assert client.get("/signin").headers["referrer-policy"] == "same-origin"


# Keys


def test_the_secret_is_made_once_and_only_for_its_owner(tmp_path: Path) -> None:
    with ThreadPoolExecutor(8) as pool:
        secrets = set(pool.map(lambda _: load_secret(tmp_path / "new"), range(32)))
    assert len(secrets) == 1
    assert [file.name for file in (tmp_path / "new").iterdir()] == ["fishplate.key"]
    assert stat.S_IMODE((tmp_path / "new" / "fishplate.key").stat().st_mode) == 0o600


def test_a_damaged_secret_is_refused(tmp_path: Path) -> None:
    (tmp_path / "fishplate.key").write_bytes(b"")
    with pytest.raises(OSError, match="damaged"):
        load_secret(tmp_path)


def test_what_is_signed_ends() -> None:
    keys = Keys(b"s" * 32, PHRASE)
    now = 1_800_000_000.0
    assert keys.session_of(keys.session(now), now + SESSION_S - 1)
    assert keys.session_of(keys.session(now), now + SESSION_S) is None
    token = keys.reader_token("case1", now)
    assert keys.reader_of(token, now + READER_S - 1) == ("case1", int(now * 1000))
    assert keys.reader_of(token, now + READER_S) is None


def test_one_kind_of_signature_is_not_the_other() -> None:
    keys, now = Keys(b"s" * 32, PHRASE), 1_800_000_000.0
    assert keys.reader_of(keys.session(now), now) is None
    assert keys.session_of(keys.reader_token("owner", now), now) is None
    assert keys.session_of(keys.known(now), now) is None
    assert keys.known_of(keys.session(now), now) is None


def test_other_phrases_and_secrets_sign_differently() -> None:
    now = 1_800_000_000.0
    signed = Keys(b"s" * 32, PHRASE).session(now)
    for other in (Keys(b"s" * 32, "another phrase"), Keys(b"s" * 32, None), Keys(b"t" * 32, PHRASE)):
        assert other.session_of(signed, now) is None


def test_one_accent_is_the_same_from_every_keyboard() -> None:
    # Unicode Standard Annex 15: é and e + U+0301 are equivalent, and NFKC makes them the same.
    assert Keys(b"s" * 32, "fémur à réduire").knows("fe\u0301mur a\u0300 re\u0301duire")


def test_no_phrase_is_never_right() -> None:
    assert not Keys(b"s" * 32, None).knows("")


def test_a_short_phrase_is_refused() -> None:
    with pytest.raises(UnfitPhrase, match="12 characters"):
        fit_phrase("sesame\n")
    assert fit_phrase(f"{PHRASE}\r\n") == PHRASE


# Read-only links


def test_a_link_opens_its_case_for_reading(client: TestClient) -> None:
    sign_in(client)
    case_id = new_case(client)
    token = token_of(client, case_id)
    client.cookies.clear()
    assert client.get(f"/follow/{token}").headers["location"] == f"/follow/{token}/cases/{case_id}/conference"
    drawing = client.get(f"/follow/{token}/cases/{case_id}/drawing.svg")
    assert drawing.status_code == 200
    assert drawing.headers["content-type"].startswith("image/svg+xml")
    assert client.get(f"/follow/{token}/static/css/drawing.css").status_code == 200


@pytest.mark.parametrize("phrase", [PHRASE, None])
def test_a_link_writes_by_no_route(tmp_path: Path, phrase: str | None) -> None:
    with serving(tmp_path, phrase) as client:
        if phrase:
            sign_in(client)
        case_id, other_id = new_case(client), new_case(client)
        token = token_of(client, case_id)
        before = {one: client.get(f"/api/v1/cases/{one}").json() for one in (case_id, other_id)}
        for one in (case_id, other_id):
            for path in addresses(client.app, one):
                for method in WRITES:  # the cookie is sent too: below the link nobody writes
                    answer = client.request(method, f"/follow/{token}{path}", headers={"if-match": '"1"'}, json={})
                    assert answer.status_code in (401, 403), f"{method} {path}"
        assert {one: client.get(f"/api/v1/cases/{one}").json() for one in (case_id, other_id)} == before


def test_a_link_reads_nothing_but_its_own_case(client: TestClient) -> None:
    sign_in(client)
    case_id, other_id = new_case(client), new_case(client)
    token = token_of(client, case_id)
    client.cookies.clear()
    allowed = {f"/cases/{case_id}/{part}" for part in ("drawing.svg", "conference", "conference/map")}
    allowed |= {f"/api/v1/cases/{case_id}/{name}" for name in ("events", "picture", "steps/1", "whatifs")}
    allowed |= {"/static/css/drawing.css", "/"}
    for one in (case_id, other_id):
        for path in set(addresses(client.app, one)) - allowed:
            assert client.get(f"/follow/{token}{path}").status_code == 403, path
    assert client.get(f"/follow/{token}/").headers["location"].endswith(f"/cases/{case_id}/conference")


def test_the_token_is_no_key_anywhere_else(client: TestClient) -> None:
    sign_in(client)
    case_id = new_case(client)
    token = token_of(client, case_id)
    client.cookies.clear()
    carried = {"cookie": f"fishplate={token}", "authorization": f"Bearer {token}", "if-match": '"1"'}
    for path in [path for path in addresses(client.app, case_id) if path != "/signin"]:
        for method in WRITES:
            answer = client.request(method, f"{path}?token={token}", headers=carried, json={})
            assert answer.status_code == 401, f"{method} {path}"


def test_a_bent_or_ended_link_opens_nothing(client: TestClient) -> None:
    sign_in(client)
    case_id = new_case(client)
    token = token_of(client, case_id)
    other = token.replace(case_id, "x" * len(case_id))
    ended = client.app.state.access.keys.reader_token(case_id, time.time() - READER_S - 1)
    for wrong in (token[:-2], other, ended, "x", "%2e%2e", "é"):
        assert client.get(f"/follow/{wrong}/cases/{case_id}/drawing.svg").status_code == 401, wrong
    for path in ("/follow/", "/follow//", f"/follow/{token}/../..", f"/follow/{token}//api/v1/cases/{case_id}/events"):
        assert first_answer(client, "GET", path)[0] in (401, 403)


def test_no_link_to_a_case_that_is_not_there(client: TestClient) -> None:
    sign_in(client)
    assert client.post("/api/v1/cases/nothing/reader-link").status_code == 404


# The table


def test_the_owner_may_do_everything() -> None:
    assert may(Owner(), "DELETE", "/cases/x/delete")


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "get", ""])
def test_a_reader_only_reads(method: str) -> None:
    assert not may(Reader("x"), method, "/api/v1/cases/x/events")


@pytest.mark.parametrize(
    "path",
    ["/cases/x", "/cases/x/", "/api/v1/cases/y/events", "/api/v1/cases/x/events/", "/api/v1/cases/x/events\n",
     "//api/v1/cases/x/events", "/api/v1/cases/X/events", "/api/v1/cases/{case}/events", "/cases/x/events", "/static/",
     "/static//x", "/api/v1/cases/x", ""],
)  # fmt: skip
def test_a_reader_reads_only_what_the_table_says(path: str) -> None:
    assert not may(Reader("x"), "GET", path)
    assert may(Reader("x"), "GET", "/api/v1/cases/x/events")
