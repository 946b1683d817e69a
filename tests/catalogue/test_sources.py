"""Every figure names its source, and the words of the source agree with how firmly it is stated."""

import dataclasses
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest

import app.catalogue
from app.catalogue import Catalogue, Figure, On, default_catalogue, load_catalogue, load_thresholds
from app.rules import all_rules

CATALOGUE = default_catalogue()
WORDS = {"key", "name", "label", "code_prefix", "figures", "figure", "kind", "hole_kind", "material", "cortex_screw"}
OWN_SOURCE = {"minima", "at_risk", "joints", "alternative", "tension"}  # their entries carry a source each
SPECS = [
    (kind, key, spec)
    for kind in ("bones", "series", "screws", "materials")
    for key, spec in getattr(CATALOGUE, kind).items()
]


def figures(catalogue: Catalogue) -> Iterator[Figure]:
    yield from catalogue.figures.values()
    for _, _, spec in SPECS:
        yield from spec.figures.values()
    for bone in catalogue.bones.values():
        yield from (minimum.figure for minimum in bone.minima.values())
        yield from (structure.figure for structure in bone.at_risk)
        yield from (joint.figure for joint in bone.joints)
        yield from (bow.figure for bow in bone.bows)
        yield from (tension.figure for tension in bone.tension.values())
        if bone.alternative is not None:
            yield bone.alternative.figure
    yield from (quality.figure for quality in catalogue.qualities.values())
    yield from (entry.figure for entry in load_thresholds().entries.values())


@pytest.mark.parametrize(("kind", "key", "spec"), SPECS, ids=lambda part: part if isinstance(part, str) else "")
def test_every_field_names_its_source(kind: str, key: str, spec) -> None:  # type: ignore[no-untyped-def]
    fields = {field.name for field in dataclasses.fields(spec)}
    if kind == "screws":  # a screw needs no figure that it hasn't got
        fields = {name for name in fields if getattr(spec, name) is not None}
    fields -= {name for name in ("short_tips", "stagger_mm") if not getattr(spec, name, True)}
    wanted = fields - WORDS - OWN_SOURCE - {"locking_screw"}
    assert wanted, f"{kind}.{key} has no figures at all"
    assert wanted <= spec.figures.keys(), f"{kind}.{key}"


def test_constants_of_bone_name_theirs() -> None:
    assert set(CATALOGUE.figures) == {"bone_modulus_mpa", "bone_poisson", "bone_shear_strength_mpa"}


def test_midshaft_figures_are_told_apart_from_the_drawn_outline() -> None:
    for bone in CATALOGUE.bones.values():
        assert bone.figures["profile"].standing == "assumed"
        assert {"midshaft_depth_mm", "midshaft_width_mm", "midshaft_cortex_mm"} <= bone.figures.keys()


WEAK = {"from memory", "assumed", "common practice"}
DATA = Path(app.catalogue.__file__).parent / "data"


def entries() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every source written in the shipped files, named or a threshold's own, whether anything stands on it or not."""
    for path in sorted(DATA.glob("*.toml")):
        file = tomllib.loads(path.read_text(encoding="utf-8"))
        if path.name == "thresholds.toml":
            yield from ((f"{rule}.{name}", one) for rule, group in file.items() for name, one in group.items())
        else:
            yield from ((f"{path.name}: {name}", one) for name, one in file["sources"].items())


def grounds() -> Iterator[tuple[str, str, str, str]]:
    """Name, source, standing, and on whom or what, of every source in the files and of every rule."""
    yield from ((name, one["source"], one["standing"], one["on"]) for name, one in entries())
    yield from ((rule.id, rule.source, rule.standing, rule.on) for rule in all_rules())


def test_every_source_says_on_whom_or_what_it_is() -> None:
    """The demand is our own: only what is weak has no source, and what is weak claims no people, animals or tests."""
    found = list(grounds())
    assert len(found) > 150
    assert {on for _, _, _, on in found} <= set(get_args(On))
    assert [name for name, _, standing, on in found if standing in WEAK and on not in ("none", "calculation")] == []
    assert [name for name, _, standing, on in found if standing not in WEAK and on == "none"] == []


def test_what_stands_on_a_veterinary_page_says_that_no_human_source_was_found() -> None:
    veterinary = {name: source for name, source, _, on in grounds() if on == "veterinary"}
    # no page for surgeons of people was found with these three figures
    assert {"near-fracture.clearance_diameters", "near-fracture.spacing_diameters", "lag-valid.rim_diameters"} <= set(
        veterinary
    )
    assert [
        name for name, text in veterinary.items() if "veterinary" not in text or "no human source found" not in text
    ] == []


def test_own_stock_and_own_thresholds_need_not_say_it(tmp_path: Path) -> None:
    stock, thresholds = tmp_path / "stock.toml", tmp_path / "thresholds.toml"
    stock.write_text('[series."small-3.5"]\nholes_made = [6, 8]\nsource = "our store list"\n', encoding="utf-8")
    thresholds.write_text("[near-fracture]\nclearance_diameters = 1.5\n", encoding="utf-8")
    assert load_catalogue(stock).series["small-3.5"].figures["holes_made"].on == "none"
    assert load_thresholds(thresholds).entry("near-fracture", "clearance_diameters").figure.on == "none"


def test_words_agree_with_standing() -> None:
    for figure in figures(CATALOGUE):
        text = figure.source.lower()
        if figure.standing == "from memory":
            assert "memory" in text
        elif figure.standing == "assumed":
            assert "assumed" in text or "choice" in text
        elif figure.standing == "published":
            assert re.search(
                r"\b(19|20)\d\d\b|pmc\d+|pubmed \d+|researcher\.life|orthobullets \d+|litmetric \d+|mdedge \d+", text
            ), text
        else:
            assert not text.startswith(("from memory", "assumed")), text
