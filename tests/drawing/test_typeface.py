"""The typeface: our own name, an open licence, every sign that is written anywhere, and widths as in its files.

What a font file holds is read with fontTools: the tables are those of the OpenType specification 1.9 (name, OS/2, hmtx,
cmap), not what our program for making them meant to write.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

import app
from app.drawing import draw_case, draw_sketch, with_typeface
from app.drawing.typeface import has_signs, shortened, text_width, wrapped
from app.samples import load_samples
from tests.drawing.constructs import SOME, SVG, assessed, parsed

ROOT = Path(app.__file__).parent.parent
FONTS = ROOT / "static" / "fonts"
FACES = {"regular": 400, "strong": 600}
EACH = pytest.mark.parametrize("face", sorted(FACES))
# Formulas in the comments of the mechanics are not for the screen; the API page shows what ``app.web`` says of itself.
SHOWN_DOCSTRINGS = "web"


def font(name: str) -> TTFont:
    return TTFont(FONTS / f"fishplate-sans-{name}")


def signs(name: str) -> set[str]:
    return {chr(code) for code in font(name).getBestCmap()}


def docstrings(tree: ast.Module) -> set[int]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                found.add(id(first.value))
    return found


def strings(path: Path, *, docs: bool) -> str:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = set() if docs else docstrings(tree)
    texts = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in left_out
    ]
    return "".join(texts)


def written() -> Iterator[tuple[str, str]]:
    """Everything that may come to be shown: file, text."""
    for folder in ("templates", "static", "sample_cases", "app"):
        for path in sorted((ROOT / folder).rglob("*")):
            name = path.relative_to(ROOT).as_posix()
            if "_shipped" in name or name == "app/drawing/widths.py":
                continue
            if path.suffix in {".html", ".js", ".css", ".json", ".toml", ".typ", ".svg"}:
                yield name, path.read_text(encoding="utf-8")
            elif path.suffix == ".py":
                yield name, strings(path, docs=path.parent.name == SHOWN_DOCSTRINGS)


@pytest.mark.parametrize("file", ["regular.ttf", "regular.woff2", "strong.ttf", "strong.woff2"])
def test_every_sign_that_is_written_is_in_the_face(file: str) -> None:
    have = signs(file)
    missing = {name: lacking for name, text in written() if (lacking := {s for s in text if s.isprintable()} - have)}
    assert missing == {}
    assert len(dict(written())) > 200


def test_latin_letters_of_europe_are_in_the_face() -> None:
    # Unicode 17: Basic Latin, Latin-1 Supplement and Latin Extended-A, without control characters
    blocks = {chr(code) for code in (*range(0x20, 0x7F), *range(0xA0, 0x180))}
    assert blocks <= signs("regular.ttf")
    assert blocks <= signs("strong.ttf")


@EACH
def test_page_and_paper_have_the_same_face(face: str) -> None:
    page, paper = font(f"{face}.woff2"), font(f"{face}.ttf")
    assert page.getBestCmap() == paper.getBestCmap()
    assert page["hmtx"].metrics == paper["hmtx"].metrics


@EACH
@pytest.mark.parametrize("ending", [".ttf", ".woff2", "-drawing.woff2"])
def test_a_face_is_named_by_our_own_name_and_weight(face: str, ending: str) -> None:
    one = font(face + ending)
    names = {record.nameID: str(record) for record in one["name"].names}
    assert names[1] == "Fishplate Sans"
    assert {names.get(16, names[1]), names[4].rsplit(" ", 1)[0]} == {"Fishplate Sans"}
    assert names[6].startswith("FishplateSans-")
    assert "Open Font License" in names[13]
    assert one["OS/2"].usWeightClass == FACES[face]
    assert one["OS/2"].fsType == 0  # OpenType: installable embedding, no restriction


def test_the_licence_lies_beside_it() -> None:
    licence = (FONTS / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    first = licence.split("PREAMBLE")[0]
    assert "Reserved Font Name" not in first  # the holder reserved none, so a cut of it may be passed on
    readme = (FONTS / "README.md").read_text(encoding="utf-8")
    for word in ("Fishplate Sans", "4.203", "SIL Open Font License 1.1", "tests.drawing.new_typeface"):
        assert word in readme


@EACH
def test_figures_are_tabular(face: str) -> None:
    one = font(f"{face}.ttf")
    assert len({one["hmtx"][one.getBestCmap()[ord(digit)]][0] for digit in "0123456789"}) == 1


@EACH
def test_widths_are_those_of_the_file(face: str) -> None:
    one = font(f"{face}.ttf")
    cmap, advances, em = one.getBestCmap(), one["hmtx"], one["head"].unitsPerEm
    for code, name in cmap.items():
        assert text_width(chr(code), em, strong=face == "strong") == pytest.approx(advances[name][0], abs=0.5)


def test_a_text_is_as_wide_as_its_signs() -> None:
    regular = text_width("Hole 3", 16)
    assert regular == pytest.approx(sum(text_width(sign, 16) for sign in "Hole 3"))
    assert text_width("Hole 3", 32) == pytest.approx(2 * regular)


def test_lines_fit_their_room_and_lose_no_word() -> None:
    text = "Capstan bar against the arm: " + "x" * 90 + " and a short oblique fracture of the humerus, 1 mm apart"
    for room in (60.0, 200.0, 968.0):
        lines = wrapped(text, 15, room)
        assert all(text_width(line, 15) <= room for line in lines)
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert wrapped(text, 15, 1e6) == [text]
    assert wrapped("", 15, 100) == []


def test_what_is_too_long_ends_in_an_ellipsis() -> None:
    text = "No curve: the frame can move in one way that no screw holds back."
    assert shortened(text, 16, 1000) == text
    short = shortened(text, 16, 200)
    assert text_width(short, 16) <= 200
    assert short.endswith(" …")
    assert text.startswith(short[:-2])


def drawn_texts() -> Iterator[str]:
    for sample in load_samples():
        for one in sample.case.constructs:
            yield draw_sketch(assessed(one), theme="light", interactive=False)
    for some in SOME.values():
        yield draw_sketch(assessed(some), theme="light", interactive=False)


def test_what_drawings_say_is_in_the_face_that_they_carry() -> None:
    regular, strong = signs("regular-drawing.woff2"), signs("strong-drawing.woff2")
    assert regular == strong
    texts = {text for svg in drawn_texts() for element in parsed(svg).iter(f"{SVG}text") if (text := element.text)}
    assert len(texts) > 40
    assert set("".join(texts)) <= regular
    for path in sorted((ROOT / "app" / "drawing").glob("*.py")):
        if path.name != "widths.py":
            assert {sign for sign in strings(path, docs=False) if sign.isprintable()} <= regular, path.name


def test_a_drawing_on_its_own_carries_its_face_and_little_else() -> None:
    svg = draw_sketch(assessed(next(iter(SOME.values()))), theme="light", interactive=False)
    carried = with_typeface(svg)
    faces = re.findall(r"@font-face \{[^}]*\}\n", carried)
    assert [re.search(r"font-weight: (\d+)", face)[1] for face in faces] == ["400", "600"]
    assert all("url(data:font/woff2;base64," in face for face in faces)
    assert carried.replace("".join(faces), "") == svg
    assert len(carried) - len(svg) < 25_000


def test_a_drawing_for_a_page_carries_none() -> None:
    svg = draw_sketch(assessed(next(iter(SOME.values()))), theme="page")
    assert "font-face" not in svg
    with pytest.raises(ValueError, match="stands alone"):
        with_typeface(svg)


def test_no_other_font_is_named_first() -> None:
    # CSS Fonts 4: the first family that has the sign is used
    paths = [*sorted((ROOT / "static" / "css").glob("*.css")), ROOT / "app/drawing/style.py"]
    named = [
        (path.name, family.strip())
        for path in paths
        for family in re.findall(r"font(?:-family)?:\s*([^;}]+)", path.read_text(encoding="utf-8"))
    ]
    ours = [(name, family) for name, family in named if "Fishplate Sans" in family or "FONT" in family]
    assert ours, "no style names our typeface"
    assert {(name, family) for name, family in named if family != "inherit"} == set(ours)


def test_known_signs_are_known() -> None:
    assert has_signs("Hole 3 × 40° – ÷ ź")
    assert not has_signs("骨折")


def test_a_case_with_a_long_title_stays_inside_its_picture() -> None:
    from tests.drawing.test_alone import whole

    for title in ("WMWM " * 24, "i" * 120, "ÄÖÜ " * 30):
        svg = parsed(draw_case(whole(title.strip(), next(iter(SOME.values())))))
        width = float(svg.attrib["viewBox"].split()[2])
        captions = [text for text in svg.iter(f"{SVG}text") if text.get("class") == "caption"]
        assert captions, title
        for caption in captions:
            size, x = float(caption.attrib["font-size"]), float(caption.attrib["x"])
            assert x + text_width(caption.text or "", size) <= width - x + 0.01
