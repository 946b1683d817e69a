"""Every figure names its source, and the words of the source agree with how firmly it is stated."""

import dataclasses
import re
from collections.abc import Iterator

import pytest

from app.catalogue import Catalogue, Figure, default_catalogue, load_thresholds

CATALOGUE = default_catalogue()
WORDS = {"key", "name", "label", "code_prefix", "figures", "figure", "kind", "hole_kind", "material", "cortex_screw"}
OWN_SOURCE = {"minima", "at_risk", "joints", "alternative"}  # their entries carry a source each
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
        if bone.alternative is not None:
            yield bone.alternative.figure
    yield from (quality.figure for quality in catalogue.qualities.values())
    yield from (entry.figure for entry in load_thresholds().entries.values())


@pytest.mark.parametrize(("kind", "key", "spec"), SPECS, ids=lambda part: part if isinstance(part, str) else "")
def test_every_field_names_its_source(kind: str, key: str, spec) -> None:  # type: ignore[no-untyped-def]
    fields = {field.name for field in dataclasses.fields(spec)}
    if kind == "screws":  # a screw needs no figure that it hasn't got
        fields = {name for name in fields if getattr(spec, name) is not None}
    fields -= {name for name in ("cross_bow", "short_tips") if not getattr(spec, name, True)}
    wanted = fields - WORDS - OWN_SOURCE - {"locking_screw"}
    assert wanted, f"{kind}.{key} has no figures at all"
    assert wanted <= spec.figures.keys(), f"{kind}.{key}"


def test_constants_of_bone_name_theirs() -> None:
    assert set(CATALOGUE.figures) == {"bone_modulus_mpa", "bone_poisson", "bone_shear_strength_mpa"}


def test_midshaft_figures_are_told_apart_from_the_drawn_outline() -> None:
    for bone in CATALOGUE.bones.values():
        assert bone.figures["profile"].standing == "assumed"
        assert {"midshaft_depth_mm", "midshaft_width_mm", "midshaft_cortex_mm"} <= bone.figures.keys()


def test_words_agree_with_standing() -> None:
    for figure in figures(CATALOGUE):
        text = figure.source.lower()
        if figure.standing == "from memory":
            assert "memory" in text
        elif figure.standing == "assumed":
            assert "assumed" in text or "choice" in text
        elif figure.standing == "published":
            assert re.search(
                r"\b(19|20)\d\d\b|pmc\d+|pubmed \d+|researcher\.life|orthobullets \d+|litmetric \d+", text
            ), text
        else:
            assert not text.startswith(("from memory", "assumed")), text
