"""The user's own stock file: good ones add and override, faulty ones are refused in words that help."""

import json
import os
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.catalogue import CatalogueError, default_catalogue, load_catalogue

NEW_SERIES = """
[series."field-3.5"]
label = "Field hospital 3.5 plate"
width_mm = 10
thickness_mm = 3.2
pitch_mm = 12
centre_spacing_mm = 14
end_mm = 6
seat_mm = 3
hole_kind = "dynamic"
hole_mm = 4
slot_mm = 6
travel_mm = 0.75
reach_deg = 20
holes_made = [6, 8]
cortex_screw = "cortex-3.5"
material = "titanium-4"
"""


def stock(folder: Path, text: str) -> Path:
    path = folder / "stock.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_override_changes_only_what_it_names(tmp_path: Path) -> None:
    own = '[series."small-3.5"]\nholes_made = [6, 8]\nthickness_mm = 3.4\nsource = "our store list"\n'
    shipped, loaded = default_catalogue(), load_catalogue(stock(tmp_path, own))
    plate, before = loaded.series["small-3.5"], shipped.series["small-3.5"]
    assert (plate.holes_made, plate.thickness_mm, plate.width_mm) == ((6, 8), 3.4, before.width_mm)
    assert (plate.figures["thickness_mm"].source, plate.figures["thickness_mm"].standing) == (
        "our store list",
        "assumed",
    )
    assert plate.figures["width_mm"] == before.figures["width_mm"]
    assert {k: v for k, v in loaded.series.items() if k != "small-3.5"} == {
        k: v for k, v in shipped.series.items() if k != "small-3.5"
    }
    assert default_catalogue() == shipped


def test_new_series_and_new_screw(tmp_path: Path) -> None:
    screw = '[screws."cortex-3.5"]\nstock_mm = [[12, 40, 4]]\n'
    loaded = load_catalogue(stock(tmp_path, NEW_SERIES + screw))
    plate = loaded.series["field-3.5"]
    assert (plate.travel_mm, plate.locking_screw, plate.material) == (0.75, None, "titanium-4")
    assert all("stock.toml" in figure.source for figure in plate.figures.values())
    assert loaded.screws["cortex-3.5"].stock_mm == (12, 16, 20, 24, 28, 32, 36, 40)


def test_staggered_holes_are_the_stocks_own_and_in_line_unless_it_says_so(tmp_path: Path) -> None:
    assert load_catalogue(stock(tmp_path, NEW_SERIES)).series["field-3.5"].stagger_mm == 0
    plate = load_catalogue(stock(tmp_path, NEW_SERIES + "stagger_mm = 1.5\n")).series["field-3.5"]
    assert plate.stagger_mm == 1.5
    assert "stock.toml" in plate.figures["stagger_mm"].source
    shipped = {key: series.stagger_mm for key, series in default_catalogue().series.items()}
    assert {key for key, stagger in shipped.items() if stagger} == {"large-broad-4.5"}
    assert default_catalogue().series["large-broad-4.5"].figures["stagger_mm"].standing == "assumed"


def test_changed_file_is_read_again(tmp_path: Path) -> None:
    path = stock(tmp_path, '[series."small-3.5"]\nthickness_mm = 3.4\n')
    first = load_catalogue(path)
    assert load_catalogue(path) is first
    stock(tmp_path, '[series."small-3.5"]\nthickness_mm = 3.45\n')
    os.utime(path, (1, 1))
    assert load_catalogue(path).series["small-3.5"].thickness_mm == 3.45


@pytest.mark.parametrize(
    ("text", "key", "allowed"),
    [
        ('[series."small-3.5"]\nthickness_mm = 40', "series.small-3.5.thickness_mm", "a number from 0.5 to 12"),
        ('[series."small-3.5"]\nthickness_mm = nan', "series.small-3.5.thickness_mm", "a number from 0.5 to 12"),
        ('[series."small-3.5"]\nthickness_mm = true', "series.small-3.5.thickness_mm", "a number from 0.5 to 12"),
        ('[series."small-3.5"]\nthickness_mm = "3"', "series.small-3.5.thickness_mm", "a number from 0.5 to 12"),
        ('[series."small-3.5"]\nholes_made = [8, 6]', "series.small-3.5.holes_made", "rising list of whole numbers"),
        ('[series."small-3.5"]\nholes_made = [30]', "series.small-3.5.holes_made", "from 2 to 24"),
        ('[series."small-3.5"]\ntravel_mm = 2.5', "series.small-3.5.slot_mm", "at least 9.1"),
        ('[series."small-3.5"]\nhole_mm = 3.2', "series.small-3.5.hole_mm", "between thread and head of cortex-3.5"),
        ('[series."small-3.5"]\ncortex_screw = "nail"', "series.small-3.5.cortex_screw", "must be one of: cortex-1.5"),
        ('[series."small-3.5"]\ncolour = "x"', "series.small-3.5.colour", "unknown key"),
        ('[series."small-3.5"]\nlabel = "<b>"', "series.small-3.5.label", "plain text"),
        ('[series."small-3.5"]\nstagger_mm = 2.5', "series.small-3.5.stagger_mm", "must be at most 2.45"),
        ('[series."small-3.5"]\nstagger_mm = -1', "series.small-3.5.stagger_mm", "a number from 0 to 6"),
        ('[series."small-3.5"]\nhole_kind = "round"', "series.small-3.5.slot_mm", "round hole"),
        ('[series."Small"]\nwidth_mm = 3', "series.Small", "lower-case letters"),
        ('[series."tiny"]\nlabel = "Tiny"', "series.tiny.width_mm", "missing"),
        ('[screws."cortex-3.5"]\nthread_drill_mm = 3.5', "screws.cortex-3.5.thread_drill_mm", "less than the thread"),
        ('[screws."cortex-3.5"]\nstock_mm = [[40, 12, 2]]', "screws.cortex-3.5.stock_mm", "[from, to, step]"),
        ('[screws."cortex-3.5"]\nstock_mm = [12, 14]', "screws.cortex-3.5.stock_mm", "list of lists of 3"),
        ('[screws."cortex-3.5"]\nhead_mm = 3.9', "screws", "no longer fit series.small-3.5.hole_mm"),
        ("[bones.femur]\nlength_mm = 400", "bones", "unknown key; known: screws, series"),
        ("series = 3", "series", "must be a table"),
        ("[series", "", "is not TOML"),
    ],
)
def test_faults_name_file_key_and_range(tmp_path: Path, text: str, key: str, allowed: str) -> None:
    with pytest.raises(CatalogueError) as caught:
        load_catalogue(stock(tmp_path, text))
    assert caught.value.file == "stock.toml"
    assert caught.value.key == key
    assert allowed in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(CatalogueError, match="cannot be read"):
        load_catalogue(tmp_path / "none.toml")
    with pytest.raises(CatalogueError, match="cannot be read"):
        load_catalogue(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b'title = "\xe9"')
    with pytest.raises(CatalogueError, match="UTF-8"):
        load_catalogue(tmp_path / "latin.toml")
    (tmp_path / "deep.toml").write_text("a = " + "[" * 5000)
    with pytest.raises(CatalogueError, match="is not TOML"):
        load_catalogue(tmp_path / "deep.toml")
    (tmp_path / "big.toml").write_text("#" * 1_000_001)
    with pytest.raises(CatalogueError, match="at most"):
        load_catalogue(tmp_path / "big.toml")


def toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(toml(item) for item in value) + "]"
    return json.dumps(value) if isinstance(value, str) else str(value)


VALUES = st.recursive(
    st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.sampled_from(["cortex-3.5", "round"]),
    lambda inner: st.lists(inner, max_size=4),
    max_leaves=8,
)
SERIES_FIELDS = ["label", "width_mm", "pitch_mm", "slot_mm", "holes_made", "hole_kind", "cortex_screw", "locking_screw"]
SCREW_FIELDS = ["thread_mm", "core_mm", "stock_mm", "drive", "torque_nm", "gliding_drill_mm", "kind"]
FIELDS = st.sampled_from([*SERIES_FIELDS, *SCREW_FIELDS, "source", "figure", "figures", "material"])


def loads_or_refuses(text: str) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "stock.toml"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        loaded, refused_in = default_catalogue(), "stock.toml"
        try:
            loaded = load_catalogue(path)
        except CatalogueError as error:  # anything else that is raised fails the test
            refused_in = error.file
    assert refused_in == "stock.toml"
    for series in loaded.series.values():
        assert series.slot_mm < series.pitch_mm
        assert series.cortex_screw in loaded.screws


@settings(deadline=None, max_examples=60)
@given(st.text(max_size=60))
def test_junk_text_never_gets_through(text: str) -> None:
    loads_or_refuses(text)


@settings(deadline=None, max_examples=150)
@given(
    st.sampled_from(['series."small-3.5"', 'screws."cortex-3.5"', 'screws."locking-3.5"', "series.new", "screws.new"]),
    st.dictionaries(FIELDS, VALUES, max_size=4),
)
def test_junk_values_never_get_through(table: str, values: dict[str, object]) -> None:
    loads_or_refuses(f"[{table}]\n" + "\n".join(f"{name} = {toml(value)}" for name, value in values.items()))
