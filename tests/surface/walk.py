"""Every route that shows a case, asked one after another."""

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html import unescape
from typing import Any

from fastapi.testclient import TestClient

OFFERED = re.compile(r"<(?:option|button)\b[^>]*?data-edit=(?:'([^']*)'|\"([^\"]*)\")")
PAPERS = ("", "?paper=letter")


@dataclass(frozen=True, slots=True)
class Fault:
    """An answer that no page may give."""

    path: str
    status: int
    says: str


def addresses(
    case_id: str, constructs: int, whatifs: tuple[int, ...] = (), *, dear: bool = True, papers: tuple[str, ...] = PAPERS
) -> Iterator[str]:
    """All addresses that show a case. ``dear``: typesetting (on ``papers``), pictures in pixels and searches too."""
    page, api = f"/cases/{case_id}", f"/api/v1/cases/{case_id}"
    yield from ("/", f"{page}/plan", f"{page}/tools", f"{page}/export", api, f"{api}/revisions", f"{api}/whatifs")
    for k in range(constructs):
        one = f"?construct={k}"
        yield from (page + one, f"{page}/drawing.svg{one}", f"{page}/conference{one}", f"{page}/compare{one}")
        yield from (f"{page}/whatifs{one}", f"{api}/picture{one}")
        if dear:
            yield from (f"{page}/drawing.png{one}&width=200", f"{api}/layouts{one}", f"{api}/more-lags{one}")
            yield f"{page}/map{one}"
        for number in whatifs:
            yield from (f"{page}/compare{one}&with=now,w{number}", f"{api}/picture{one}&variant=w{number}")
    if dear:
        yield from (*(f"{page}/plan.pdf{paper}" for paper in papers), "/library.zip")


def glance(client: TestClient, case_id: str, constructs: int) -> list[Fault]:
    """What of a case does not open at first sight: its sketch page, for each bone."""
    return opened(client, case_id, (f"/cases/{case_id}?construct={k}" for k in range(constructs)))


def opened(client: TestClient, case_id: str, paths: Iterable[str]) -> list[Fault]:
    """What of these addresses does not open; a sketch page must be whole, too."""
    found = []
    for path in paths:
        answer = client.get(path)
        if answer.status_code != 200:
            found.append(Fault(path, answer.status_code, answer.text[:300]))
        elif path.startswith(f"/cases/{case_id}?") and (fault := faulty_sketch(path, answer.text)):
            found.append(fault)
    return found


def walk(client: TestClient, case_id: str, *, dear: bool = True, papers: tuple[str, ...] = PAPERS) -> list[Fault]:
    """What of a case does not open: server errors, pages without their drawing, steps that are not there."""
    stored = client.get(f"/api/v1/cases/{case_id}")
    if stored.status_code != 200:
        return [Fault(f"/api/v1/cases/{case_id}", stored.status_code, stored.text[:300])]
    constructs = len(stored.json()["case"]["constructs"])
    whatifs = client.get(f"/api/v1/cases/{case_id}/whatifs").json()
    fitting = tuple(one["id"] for one in whatifs if one["fits"])
    shown = fitting if constructs == 1 else ()
    found = opened(client, case_id, addresses(case_id, constructs, shown, dear=dear, papers=papers))
    found += [fault for k in range(constructs) for fault in steps(client, case_id, k)]
    return found


def faulty_sketch(path: str, html: str) -> Fault | None:
    """A sketch page must have its drawing and all its panels."""
    if '<svg xmlns="http://www.w3.org/2000/svg"' not in html:
        return Fault(path, 200, "no drawing")
    if "data-left-out" in html:
        return Fault(path, 200, "a panel was left out")
    return None


def steps(client: TestClient, case_id: str, construct: int) -> Iterator[Fault]:
    """The first steps, the middle one and the last ones of the order, in pictures."""
    path, query = f"/api/v1/cases/{case_id}/steps", f"?construct={construct}"
    first = client.get(f"{path}/1{query}")
    if first.status_code != 200:
        yield Fault(f"{path}/1{query}", first.status_code, first.text[:300])
        return
    count = first.json()["steps"]
    for step in sorted({2, 3, count // 2, count - 1, count} & set(range(2, count + 1))):
        for address in (f"{path}/{step}{query}&times=10", f"/cases/{case_id}/conference{query}&step={step}"):
            answer = client.get(address)
            if answer.status_code != 200:
                yield Fault(address, answer.status_code, answer.text[:300])


def offers(html: str) -> list[dict[str, Any]]:
    """Every edit that a page offers whole: menus, buttons, remedies. Fields that a person fills in are left out."""
    texts = (unescape(one or other) for one, other in OFFERED.findall(html))
    return [json.loads(text) for text in dict.fromkeys(texts)]
