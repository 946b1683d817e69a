"""The table of licences: every package that is pinned, under a licence that is passed, as the package itself says."""

import re
from importlib import metadata
from pathlib import Path

import pytest
from packaging.licenses import canonicalize_license_expression
from packaging.utils import canonicalize_name

from tests.test_packaging import FOR_SETTING_UP, closure, declared, pins

TABLE = Path(__file__).parent.parent / "app" / "LICENCES.md"
ROW = re.compile(r"\| ([\w-]+) \| ([\w. -]+) \| (server|PostgreSQL|tests|setting up) \| [^|]* \|")
# SPDX names. Permissive; or, for libraries used as they come, weak copyleft (MPL by file, LGPL by library).
PERMISSIVE = {"0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "MIT", "MIT-CMU", "PSF-2.0", "Zlib"}
WEAK = {"LGPL-3.0-only", "MPL-2.0"}
# How packages that give no SPDX expression say it: in a classifier, a line of their own, or the text of the licence.
SAID = {
    "MIT": r"\bMIT\b|Permission is hereby granted, free of charge",
    "BSD-3-Clause": r"\bBSD\b|Redistribution and use in source and binary forms",
    "Apache-2.0": r"\bApache\b",
    "MPL-2.0": r"\bMPL-2\.0\b|Mozilla Public License",
    "PSF-2.0": r"Python Software Foundation",
}
STRONG = re.compile(
    r"\bAGPL|AFFERO|\bSSPL|(?<!L)\bGPL|(?<!LESSER )GENERAL PUBLIC LICENSE|COMMERCIAL LICENSE", re.IGNORECASE
)


def table() -> dict[str, tuple[str, str]]:
    rows = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")][1:]
    found = [match.groups() for line in rows if (match := ROW.fullmatch(line))]
    assert len(found) + 1 == len(rows), "a row that can't be read (the line of dashes is none)"
    assert len({name for name, _, _ in found}) == len(found)
    return {canonicalize_name(name): (licence, where) for name, licence, where in found}


INSTALLED = sorted(set(pins()) - FOR_SETTING_UP)


def said(name: str) -> str:
    """All that an installed package says of its licence in its own metadata, or else its licence's text."""
    told = metadata.metadata(name)
    lines = [*told.get_all("License-Expression", []), *told.get_all("License", [])]
    lines += [line for line in told.get_all("Classifier", []) if line.startswith("License ::")]
    own = [file for file in metadata.files(name) or () if ".dist-info" in str(file) and "LICENSE" in file.name.upper()]
    return "\n".join(lines) or "\n".join(Path(str(file.locate())).read_text(encoding="utf-8") for file in own)


def test_the_table_has_what_is_pinned_and_nothing_else() -> None:
    assert set(table()) == set(pins())


def test_the_table_says_where_each_is_used() -> None:
    server, postgresql = closure(declared()), closure(declared("postgresql"))

    def where(name: str) -> str:
        if name in FOR_SETTING_UP:
            return "setting up"
        return "server" if name in server else "PostgreSQL" if name in postgresql else "tests"

    assert {name: used for name, (_, used) in table().items()} == {name: where(name) for name in pins()}


def test_every_licence_is_one_that_is_passed() -> None:
    for name, (licence, _) in table().items():
        assert canonicalize_license_expression(licence) == licence
        assert set(re.split(r" AND | OR ", licence)) <= PERMISSIVE | WEAK, name


@pytest.mark.parametrize("name", INSTALLED)
def test_a_package_says_the_same_of_itself(name: str) -> None:
    licence = table()[name][0]
    expressions = metadata.metadata(name).get_all("License-Expression", [])
    assert [canonicalize_license_expression(one) for one in expressions] == [licence] * len(expressions)
    words = said(name)
    for one in () if expressions else licence.split(" AND "):
        assert re.search(SAID[one], words), f"{name}: {words[:200]}"


@pytest.mark.parametrize("name", INSTALLED)
def test_no_package_says_that_it_is_under_a_strong_copyleft_or_for_a_fee(name: str) -> None:
    told = metadata.metadata(name)
    classifiers = [line for line in told.get_all("Classifier", []) if line.startswith("License ::")]
    short = [line[:200] for line in told.get_all("License", [])]  # some put the whole text there, with all they bring
    for line in (*told.get_all("License-Expression", []), *short, *classifiers):
        assert not STRONG.search(line), f"{name}: {line}"


@pytest.mark.parametrize(
    "words",
    ["AGPL-3.0-only", "GNU AFFERO GPL 3.0 or a Commercial License", "GPL-2.0-or-later", "GNU General Public License"],
)
def test_a_strong_copyleft_would_be_seen(words: str) -> None:
    assert STRONG.search(words)


@pytest.mark.parametrize("words", ["LGPL-3.0-only", "GNU Lesser General Public License v3 (LGPLv3)", "MIT", "MPL-2.0"])
def test_a_weak_one_passes(words: str) -> None:
    assert not STRONG.search(words)
