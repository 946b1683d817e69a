"""``fishplate sheet``: exit status, the file it writes, and what it refuses."""

import json
from pathlib import Path

import pytest

from app.cli import main
from tests.papers import leaves

SAMPLES = sorted((Path(__file__).parent.parent.parent / "sample_cases").glob("*.json"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_sample_has_a_sheet(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "plan.pdf"
    assert main(["sheet", str(path), "-o", str(out)]) == 0
    data = out.read_bytes()
    assert data.startswith(b"%PDF-")
    pages = leaves(data)
    plans = [page for page in pages if "Plan sheet" in page.text]
    assert len(plans) == len(json.loads(path.read_text(encoding="utf-8"))["constructs"])
    assert any("True size" in page.text for page in pages)


def test_letter(tmp_path: Path) -> None:
    """ANSI Letter, 215.9 mm wide."""
    out = tmp_path / "plan.pdf"
    assert main(["sheet", str(SAMPLES[0]), "-o", str(out), "--paper", "letter"]) == 0
    assert leaves(out.read_bytes())[0].width_mm == pytest.approx(215.9, abs=0.1)


def test_the_map_of_layouts_is_on_the_sheet_if_it_is_wanted(tmp_path: Path) -> None:
    """One for each bone, whole on one page; the plan page and the drawing at true size are as without it."""
    path = next(one for one in SAMPLES if one.stem.startswith("08-forearm"))
    without, with_map = tmp_path / "without.pdf", tmp_path / "with.pdf"
    assert main(["sheet", str(path), "-o", str(without)]) == 0
    assert main(["sheet", str(path), "-o", str(with_map), "--map"]) == 0
    plain, mapped = (
        [" ".join(page.text.split()) for page in leaves(file.read_bytes())] for file in (without, with_map)
    )
    assert not any("Map of layouts" in text for text in plain)
    maps = [text for text in mapped if "Map of layouts" in text]
    assert len(maps) == 2
    for text in maps:
        assert "Now: torsional stiffness" in text or "Now: strain at the far cortex" in text
        assert "held fixed" in text
    assert "Missed least: hole 2." in maps[0]
    assert "No screw can be left out" in maps[1]  # two in each fragment of the radius
    assert mapped[0] == plain[0].replace(f"of {len(plain)}", f"of {len(mapped)}")
    assert b"pdfuaid" in with_map.read_bytes()  # still an accessible file (PDF/UA-1, ISO 14289-1)


@pytest.mark.parametrize("content", ["", "{}", "[1]", '{"format": "fishplate-case/2"}', "\x00"])
def test_a_faulty_file_ends_with_2_and_writes_nothing(
    content: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, out = tmp_path / "bad.json", tmp_path / "plan.pdf"
    file.write_text(content, encoding="utf-8")
    assert main(["sheet", str(file), "-o", str(out)]) == 2
    assert not out.exists()
    assert capsys.readouterr().err


def test_a_missing_file_ends_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet", "nowhere.json", "-o", str(tmp_path / "plan.pdf")]) == 2
    assert "nowhere.json" in capsys.readouterr().err


def test_a_place_that_cannot_be_written_ends_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet", str(SAMPLES[0]), "-o", str(tmp_path / "no" / "plan.pdf")]) == 2
    assert "plan.pdf" in capsys.readouterr().err


def test_another_paper_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["sheet", str(SAMPLES[0]), "-o", str(tmp_path / "plan.pdf"), "--paper", "napkin"])
    assert ended.value.code == 2
