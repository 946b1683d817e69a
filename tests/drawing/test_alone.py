"""Files that stand alone: themes, thumbnails and whole cases; text from outside can't break out."""

import re

import pytest

from app.assess import Assessment
from app.case.models import Case, Construct
from app.drawing import Theme, draw_case, draw_sketch, draw_thumbnail
from app.drawing.palette import PALETTES
from app.drawing.svg import Element, figure, label, num, run
from tests.drawing.constructs import SOME, SVG, assessed, construct, parsed

EACH = pytest.mark.parametrize("drawn", SOME.values(), ids=SOME.keys())
ALONE = pytest.mark.parametrize("theme", ["light", "dark", "print"])
NAMESPACE = 'xmlns="http://www.w3.org/2000/svg"'


def whole(title: str, *constructs: Construct) -> Assessment:
    case = Case.model_construct(
        format="fishplate-case/2", title=title, note="", bone_quality="normal", constructs=constructs
    )
    return Assessment(case, tuple(assessed(one, target=n) for n, one in enumerate(constructs)), ())


def assert_alone(text: str) -> None:
    rest = text.replace(NAMESPACE, "")
    assert "http" not in rest
    assert "var(" not in rest
    assert not re.search(r"url\((?!#)", rest)
    assert not re.search(r'href="(?!#)', rest)
    assert "@import" not in rest


@ALONE
@EACH
def test_a_sketch_of_its_own_refers_to_nothing_outside(drawn: Construct, theme: Theme) -> None:
    text = draw_sketch(assessed(drawn), theme=theme, interactive=False)
    assert_alone(text)
    root = parsed(text)
    assert root.find(f"{SVG}title") is not None
    assert PALETTES[theme]["ink"] in (root.findtext(f"{SVG}style") or "")


@ALONE
def test_a_whole_case_shows_every_construct(theme: Theme) -> None:
    text = draw_case(whole("Forearm, both bones", construct(), construct("ulna")), theme)
    assert_alone(text)
    root = parsed(text)
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert {"c0-profile", "c1-profile", "c0-hole-8", "c1-hole-8"} <= set(ids)
    assert root.findtext(f"{SVG}title") == "Forearm, both bones"
    inner = [(float(e.attrib["y"]), float(e.attrib["height"])) for e in root.iter(f"{SVG}svg") if e is not root]
    assert len(inner) == 2
    assert inner[0][0] + inner[0][1] < inner[1][0]
    assert inner[1][0] + inner[1][1] < float(root.attrib["viewBox"].split()[3])


@pytest.mark.parametrize(
    "title",
    ['"><script>alert(1)</script>', "]]>&lt;&amp;", "a\x00b\x0b\ufffe\ud800c", "'\"<!--", "x" * 120, "wörd " * 24],
)
def test_hostile_titles_stay_text(title: str) -> None:
    text = draw_case(whole(title, construct()))
    root = parsed(text)
    readable = re.sub("[\x00\x0b\ufffe\ud800]", "", title)
    assert root.findtext(f"{SVG}title") == readable
    assert not list(root.iter(f"{SVG}script"))
    caption = " ".join(e.text or "" for e in root.iter(f"{SVG}text") if e.get("class") == "caption")
    assert "".join(readable.split()) in "".join(caption.split())


@pytest.mark.parametrize("theme", ["page", "light", "dark", "print"])
@EACH
def test_thumbnails_are_small_and_wordless(drawn: Construct, theme: Theme) -> None:
    text = draw_thumbnail(assessed(drawn), theme)
    assert_alone(text)
    root = parsed(text)
    assert root.get("role") == "img"
    assert root.get("aria-label")
    assert len(list(root.iter())) <= 8
    assert not list(root.iter(f"{SVG}text"))
    assert not [e for e in root.iter() if e.get("id") or e.get("style")]
    assert (theme == "page") == any((e.get("class") or "").startswith("thumb-") for e in root.iter())


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_finite_is_never_written(value: float) -> None:
    with pytest.raises(ValueError, match="can't be drawn"):
        num(value)
    with pytest.raises(ValueError, match="can't be drawn"):
        run([(0, 0), (1, value)])
    with pytest.raises(ValueError, match="can't be drawn"):
        Element("rect", {"width": value})


def test_numbers_are_short() -> None:
    assert num(1 / 3) == "0.33"
    assert figure(2.0) == "2"
    assert figure(-0.001) == "0"
    assert figure(12.5) == "12.5"


def test_text_is_escaped() -> None:
    drawn = label("<b> & \x07", (0, 0), "halo").tostring()
    assert "&lt;b&gt; &amp; </text>" in drawn
