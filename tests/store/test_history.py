"""Any walk of edits, undos and redos, against a plain model of the tree in memory."""

from dataclasses import dataclass, field

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from app.store import NothingToRedo, NothingToUndo, Stale, Store

WALKS = settings(max_examples=15, stateful_step_count=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
TITLES = st.text(
    st.characters(codec="utf-8", exclude_categories=("C", "Z"), exclude_characters="<>"), min_size=1, max_size=20
)


@dataclass
class Node:
    """One revision of the model, with those made after it, oldest first."""

    title: str
    previous: "Node | None" = None
    following: list["Node"] = field(default_factory=list)


class Walk(RuleBasedStateMachine):
    url: str
    titled: staticmethod

    def __init__(self):
        super().__init__()
        self.store = Store(self.url)

    def teardown(self):
        self.store.close()

    @initialize(title=TITLES)
    def create(self, title):
        made = self.store.create(self.titled(title), title)
        self.id, self.version, self.head, self.made = made.id, made.version, Node(title), 1

    def answered(self, snapshot, head):
        self.head, self.version = head, self.version + 1
        assert snapshot == self.store.get(self.id)

    @rule(title=TITLES)
    def edit(self, title):
        node = Node(title, self.head)
        self.head.following.append(node)
        self.made += 1
        self.answered(self.store.save(self.id, self.titled(title), self.version, title), node)

    @precondition(lambda self: self.head.previous)
    @rule()
    def undo(self):
        self.answered(self.store.undo(self.id, self.version), self.head.previous)

    @precondition(lambda self: self.head.following)
    @rule()
    def redo(self):
        self.answered(self.store.redo(self.id, self.version), self.head.following[-1])

    @rule(behind=st.integers(1, 3), ahead=st.booleans())
    def write_at_another_version(self, behind, ahead):
        other = self.version + (behind if ahead else -behind)
        with pytest.raises(Stale):
            self.store.save(self.id, self.titled("lost"), other, "lost")

    @rule()
    def step_off_the_end(self):
        if self.head.previous is None:
            with pytest.raises(NothingToUndo):
                self.store.undo(self.id, self.version)
        if not self.head.following:
            with pytest.raises(NothingToRedo):
                self.store.redo(self.id, self.version)

    @rule()
    def restart(self):
        self.store.close()
        self.store = Store(self.url)

    @invariant()
    def agrees(self):
        at = self.store.get(self.id)
        assert (at.version, at.case, at.label) == (self.version, self.titled(self.head.title), self.head.title)
        assert at.undo_label == (self.head.title if self.head.previous else None)
        assert at.redo_label == (self.head.following[-1].title if self.head.following else None)
        assert len(self.store.revisions(self.id)) == self.made


def test_any_walk_agrees_with_the_model(store_url, titled):
    here = type("WalkHere", (Walk,), {"url": store_url, "titled": staticmethod(titled)})
    run_state_machine_as_test(here, settings=WALKS)
