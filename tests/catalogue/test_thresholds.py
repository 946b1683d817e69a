"""Thresholds: published figures, and a department's own values on top."""

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.catalogue import CatalogueError, load_thresholds

SHIPPED = load_thresholds()


# Source beside each; those from memory are said to be so in the table.
@pytest.mark.parametrize(
    ("rule", "name", "value", "standing"),
    [
        ("near-fracture", "clearance_diameters", 1, "handbook"),  # AO Surgery Reference, lag screw fixation
        ("near-fracture", "spacing_diameters", 2, "handbook"),  # same page
        ("lag-angle", "sliding_deg", 20, "handbook"),  # Johner 1983 in Wheeless' Textbook of Orthopaedics
        ("pattern-angle", "oblique_from_deg", 30, "published"),  # AO/OTA compendium 2018
        ("screw-density", "bridging_max", 0.5, "handbook"),  # AO Surgery Reference, femoral bridge plating
        ("stand-off", "caution_mm", 2, "handbook"),  # AO Surgery Reference, plate preparation
        ("stand-off", "much_mm", 5, "from memory"),  # Ahmad 2007
        ("eccentric-count", "max_per_side", 2, "handbook"),  # Wheeless, dynamic compression plates
        ("prebend", "min_mm", 1, "handbook"),  # AO Surgery Reference, transverse fractures
        ("prebend", "max_mm", 2, "handbook"),  # same page
        ("screw-length", "tip_mm", 1, "published"),  # Am J Orthop, mdedge 70535: no more hold past 1 mm
        ("screw-length", "tip_note_mm", 2, "handbook"),  # AO Surgery Reference, tibial shaft: 1 to 2 mm
        ("bridging-span", "simple_free_holes_min", 2, "published"),  # computer model, PMC3768240: 2 to 4 at 1 mm
        ("principle-fit", "small_gap_mm", 2, "assumed"),  # no source gives a figure
        ("plate-span", "simple_min", 8, "from memory"),  # Gautier and Sommer 2003
        ("plate-span", "multifragmentary_min", 2, "from memory"),  # same
    ],
)
def test_figures_and_how_firmly_they_stand(rule: str, name: str, value: float, standing: str) -> None:
    entry = SHIPPED.entry(rule, name)
    assert (entry.value, entry.figure.standing) == (value, standing)
    assert SHIPPED.value(rule, name) == value


def test_entries_of_one_rule() -> None:
    assert {entry.name for entry in SHIPPED.of("prebend")} >= {"min_mm", "max_mm"}
    assert SHIPPED.of("no-such-rule") == ()
    with pytest.raises(KeyError):
        SHIPPED.value("prebend", "none")


def test_all_lie_inside_what_a_department_may_set() -> None:
    for entry in SHIPPED.entries.values():
        assert entry.low <= entry.value <= entry.high
        assert entry.unit
        assert entry.about


def test_a_department_overrides_a_value(tmp_path: Path) -> None:
    path = tmp_path / "department.toml"
    path.write_text("[near-fracture]\nclearance_diameters = 1.5\n")
    own = load_thresholds(path)
    entry = own.entry("near-fracture", "clearance_diameters")
    assert (entry.value, entry.unit) == (1.5, "screw diameters")
    assert "department.toml" in entry.figure.source
    assert list(own.entries) == list(SHIPPED.entries)
    changed = {key for key, other in own.entries.items() if other != SHIPPED.entries[key]}
    assert changed == {("near-fracture", "clearance_diameters")}


@pytest.mark.parametrize(
    ("text", "key", "allowed"),
    [
        ("[near-fracture]\nclearance_diameters = 50", "near-fracture.clearance_diameters", "a number from 0 to 5"),
        ("[near-fracture]\nclearance_diameters = inf", "near-fracture.clearance_diameters", "a number from 0 to 5"),
        ("[near-fracture]\nclearance_diameters = false", "near-fracture.clearance_diameters", "a number from 0 to 5"),
        ("[near-fracture]\nclearance = 1", "near-fracture.clearance", "unknown key; known: clearance_diameters"),
        ("[nearness]\nclearance = 1", "nearness", "unknown key"),
        ("near-fracture = 1", "near-fracture", "must be a table"),
    ],
)
def test_faults_name_file_key_and_range(tmp_path: Path, text: str, key: str, allowed: str) -> None:
    path = tmp_path / "department.toml"
    path.write_text(text)
    with pytest.raises(CatalogueError) as caught:
        load_thresholds(path)
    assert (caught.value.file, caught.value.key) == ("department.toml", key)
    assert allowed in str(caught.value)


@settings(deadline=None, max_examples=60)
@given(st.sampled_from(sorted(SHIPPED.entries)), st.floats())
def test_any_number_is_set_or_refused(entry: tuple[str, str], value: float) -> None:
    rule, name = entry
    shipped = SHIPPED.entry(rule, name)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "department.toml"
        path.write_text(f"[{rule}]\n{name} = {value}\n")
        if shipped.low <= value <= shipped.high:
            assert load_thresholds(path).value(rule, name) == value
        else:
            with pytest.raises(CatalogueError, match=name):
                load_thresholds(path)
