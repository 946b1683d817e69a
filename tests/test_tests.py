"""No test passes without having looked: each checks something, and on every way through it.

Read from the tests' own text. What a test leaves out is chosen when its cases are made (or by ``assume``, which draws
another one), never by leaving it early: a case that returns before its first check counts as passed.
"""

import ast
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
CHECKS = {"raises", "warns", "expect", "fail", "validate", "run_state_machine_as_test"}
LEAVES = {"skip", "exit"}
# Names of methods that things have which are none of ours.
COMMON = {"get", "next", "add", "run", "start", "stop", "edit", "open"}

Function = ast.FunctionDef | ast.AsyncFunctionDef


def called(node: ast.AST) -> str:
    """The last name of what is called: ``fail`` of ``pytest.fail(…)``."""
    if not isinstance(node, ast.Call):
        return ""
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def own(node: ast.AST) -> Iterator[ast.AST]:
    """All below a node, but for what stands in functions and classes inside it."""
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, Function | ast.Lambda | ast.ClassDef):
            yield child
            yield from own(child)


def functions(tree: ast.AST) -> list[Function]:
    return [node for node in ast.walk(tree) if isinstance(node, Function)]


class Reader:
    """What counts as a check: assertions, and calls of the tests' own functions that check on every way through.

    A function counts in the file that it stands in, and where it is imported; a method wherever its name is called.
    """

    def __init__(self, tree: ast.Module, methods: Iterable[str] = ()) -> None:
        self.checking = CHECKS | set(methods)
        self._learn(functions(tree))

    def _learn(self, helpers: Iterable[Function]) -> None:
        helpers = [one for one in helpers if not one.name.startswith(("test_", "_"))]
        while more := {one.name for one in helpers if self.always(one.body)} - self.checking - COMMON:
            self.checking |= more

    def is_check(self, node: ast.AST) -> bool:
        return isinstance(node, ast.Assert) or called(node) in self.checking

    def holds_check(self, node: ast.AST) -> bool:
        return any(self.is_check(one) or self._hands_over(one) for one in (node, *own(node)))

    def _hands_over(self, node: ast.AST) -> bool:
        """Whether a function that checks is given away to be called: ``pool.map(start, …)``."""
        given = [*node.args, *(word.value for word in node.keywords)] if isinstance(node, ast.Call) else []
        return any(isinstance(one, ast.Name) and one.id in self.checking for one in given)

    def always(self, body: list[ast.stmt]) -> bool:
        return any(self._checks(statement) for statement in body)

    def _checks(self, statement: ast.stmt) -> bool:
        match statement:
            case ast.Assert():
                return True
            case ast.If():
                return self.holds_check(statement.test) or (
                    self.always(statement.body) and self.always(statement.orelse)
                )
            case ast.With() | ast.AsyncWith():
                return any(self.holds_check(item) for item in statement.items) or self.always(statement.body)
            case ast.For() | ast.AsyncFor():
                return self.holds_check(statement.iter) or self.always(statement.body)
            case ast.While():
                return self.holds_check(statement.test) or self.always(statement.body)
            case ast.Try():
                ways = [[*statement.body, *statement.orelse], *(handler.body for handler in statement.handlers)]
                return self.always(statement.finalbody) or all(self.always(way) for way in ways)
            case ast.FunctionDef() | ast.AsyncFunctionDef() | ast.ClassDef():
                return False
            case _:
                return self.holds_check(statement)

    def faults(self, test: Function) -> list[str]:
        found = [] if self.always(test.body) else ["may end without a check"]
        first = min(
            (node.lineno for node in own(test) if self.holds_check(node) and hasattr(node, "lineno")), default=0
        )
        for node in own(test):
            if (isinstance(node, ast.Return) or called(node) in LEAVES) and node.lineno < first:  # type: ignore[attr-defined]
                found.append(f"is left in line {node.lineno} before anything is checked")  # type: ignore[attr-defined]
            if isinstance(node, ast.For | ast.While) and not self._loop_is_sound(node):
                found.append(f"passes over what it goes through in line {node.lineno}")
        return found

    def _loop_is_sound(self, loop: ast.For | ast.While) -> bool:
        passes = [node.lineno for node in own(loop) if isinstance(node, ast.Continue)]
        checks = [node.lineno for node in own(loop) if isinstance(node, ast.stmt) and self.holds_check(node)]
        return not passes or not checks or min(checks) < min(passes)


def readers(trees: dict[Path, ast.Module]) -> dict[Path, Reader]:
    alone = {path: Reader(tree) for path, tree in trees.items()}
    methods = {
        one.name
        for path, tree in trees.items()
        for group in ast.walk(tree)
        if isinstance(group, ast.ClassDef)
        for one in group.body
        if isinstance(one, Function) and one.name in alone[path].checking - CHECKS
    }
    found = {}
    for path, tree in trees.items():
        known = set(methods)
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("tests."):
                file = TESTS.parent / f"{str(node.module).replace('.', '/')}.py"
                known |= {alias.name for alias in node.names} & (alone[file].checking if file in alone else set())
        found[path] = Reader(tree, known)
    return found


def test_no_test_passes_without_a_look() -> None:
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(TESTS.rglob("*.py"))}
    found = [
        f"{path.relative_to(TESTS)}:{test.lineno} {test.name} {fault}"
        for path, reader in readers(trees).items()
        for test in functions(trees[path])
        if test.name.startswith("test_")
        for fault in reader.faults(test)
    ]
    assert found == []


HELPERS = """
def sound(x):
    assert x

def lax(x):
    if x:
        assert x
"""


@pytest.mark.parametrize(
    ("body", "is_sound"),
    [
        ("assert x", True),
        ("sound(x)", True),
        ("lax(x)", False),
        ("print(x)", False),
        ("if x: return\n    assert x", False),
        ("pytest.skip('x')\n    assert x", False),
        ("assert x\n    if x: return\n    assert y", True),
        ("if x: assert x", False),
        ("if x: assert x\n    else: assert y", True),
        ("for y in x:\n        if y: continue\n        assert y", False),
        ("for y in x:\n        if y:\n            assert y", False),
        ("for y in x:\n        assert y", True),
        ("with pytest.raises(E): f(x)", True),
        ("try: assert f(x)\n    except E: pass", False),
        ("def inside(): assert x", False),
    ],
)
def test_the_reader_tells_them_apart(body: str, is_sound: bool) -> None:
    tree = ast.parse(f"{HELPERS}\ndef test_it(x):\n    {body}\n")
    (test,) = (one for one in functions(tree) if one.name == "test_it")
    assert (Reader(tree).faults(test) == []) == is_sound
