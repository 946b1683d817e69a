"""One case, edited at its limits again and again; after each step everything that shows it must open."""

from collections import Counter
from typing import Any

import numpy as np  # whole before the server loads it in a thread of its own: hypothesis looks into it
from fastapi.testclient import TestClient
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from app.assess import assess
from app.case import Case, parse_case
from app.document import as_document
from tests.surface.extremes import KNOWLEDGE, accepted, extreme_cases, extreme_edits
from tests.surface.walk import PAPERS, glance, offers, walk

COUNTS: Counter[str] = Counter()
assert np.__version__


class Surface(RuleBasedStateMachine):
    """A person with a case, an undo button and no mercy. ``client`` and ``dear_every`` are set by whoever runs it."""

    client: TestClient
    whole_every = 1  # every route at every so manieth look, else the sketch pages only
    dear_every = 1  # typesetting and searches at every so manieth look

    def __init__(self) -> None:
        super().__init__()
        self.history: list[Case] = []
        self.kept = 0

    @initialize(case=extreme_cases())
    def begin(self, case: Case) -> None:
        answer = self.client.post("/api/v1/cases", json=case.model_dump(mode="json"))
        assert answer.status_code == 201, (answer.status_code, answer.text[:500])
        self.id, self.version = answer.json()["id"], answer.json()["version"]
        self.path = f"/api/v1/cases/{self.id}"
        self.case, self.history = case, []
        self.changed = True
        COUNTS["cases"] += 1

    def _post(self, address: str, body: dict[str, Any]) -> Any:
        answer = self.client.post(f"{self.path}/{address}", json=body, headers={"If-Match": f'"{self.version}"'})
        assert answer.status_code < 500, (address, body, answer.status_code, answer.text[:500])
        if answer.status_code == 200:
            self.version = answer.json()["version"]
            self.changed = True
        return answer

    def _note(self, expected: Case) -> None:
        if expected != self.case:  # an edit that changes nothing makes no revision
            self.history.append(self.case)
        self.case = expected

    def _edited(self, edit: dict[str, Any], expected: Case | None) -> None:
        shown = self.client.post(f"{self.path}/preview", json={"edit": edit})
        answer = self._post("edits", {"edit": edit})
        assert shown.status_code == answer.status_code, (edit, shown.text[:300], answer.text[:300])
        assert (answer.status_code == 200) == (expected is not None), (edit, answer.status_code, answer.text[:300])
        if expected is not None:
            assert answer.json()["drawing"].startswith("<svg")
            self._note(expected)
            COUNTS["edits"] += 1
        else:
            COUNTS["refused"] += 1

    @rule(data=st.data())
    def edit(self, data: st.DataObject) -> None:
        edit = data.draw(extreme_edits(self.case), label="edit")
        self._edited(edit, accepted(self.case, edit))

    @rule(data=st.data(), window=st.sampled_from([(0.0, 10.0), (-1000.0, -990.0), (1990.0, 2000.0), (100.0, 119.9)]))
    def edit_in_an_odd_window(self, data: st.DataObject, window: tuple[float, float]) -> None:
        edit = data.draw(extreme_edits(self.case), label="edit")
        expected = accepted(self.case, edit)
        answer = self._post("edits", {"edit": edit, "view": window})
        assert answer.status_code in (200, 422)
        if answer.status_code == 200:
            assert expected is not None
            self._note(expected)

    @rule(data=st.data())
    def take_an_offer(self, data: st.DataObject) -> None:
        """Menus, buttons and remedies: what is offered is accepted."""
        construct = data.draw(st.integers(0, len(self.case.constructs) - 1), label="construct")
        found = offers(self.client.get(f"/cases/{self.id}?construct={construct}").text)
        edit = data.draw(st.sampled_from(found), label="offer")
        expected = accepted(self.case, edit)
        assert expected is not None, f"offered, but refused: {edit}"
        self._edited(edit, expected)
        COUNTS["offers"] += 1

    @precondition(lambda self: self.history)
    @rule()
    def undo(self) -> None:
        answer = self._post("undo", {})
        assert answer.status_code == 200, answer.text[:300]
        self.case = self.history.pop()
        stored = Case.model_validate(self.client.get(self.path).json()["case"])
        assert stored == self.case, "the undo is not complete"
        COUNTS["undone"] += 1

    @rule(data=st.data())
    def keep_a_what_if(self, data: st.DataObject) -> None:
        construct = data.draw(st.integers(0, len(self.case.constructs) - 1), label="construct")
        kept = self.client.post(f"{self.path}/whatifs", json={"construct": construct})
        assert kept.status_code == 201, kept.text[:300]
        self.kept += 1
        self._edited(kept.json()["swap"], self.case)
        self.changed = True

    @invariant()
    def all_opens(self) -> None:
        if not self.changed:
            return
        self.changed = False
        COUNTS["looks"] += 1
        number = COUNTS["looks"]
        if number % self.whole_every:
            faults = glance(self.client, self.id, len(self.case.constructs))
        else:
            # A sheet takes as long as twenty pages: one paper a look, in turn.
            paper = PAPERS[number // self.dear_every % len(PAPERS)]
            faults = walk(self.client, self.id, dear=number % self.dear_every == 0, papers=(paper,))
            COUNTS["walks"] += 1
        assert not faults, faults
        file = parse_case(self.client.get(f"/cases/{self.id}/export").content)
        assert file.model_copy(update={"whatifs": ()}) == self.case
        assert len(file.whatifs) == self.kept
        as_document(assess(self.case, KNOWLEDGE))
