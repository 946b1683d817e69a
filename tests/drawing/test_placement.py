"""Nothing that is written or taken hold of covers another, and nothing is cut off by the frame.

Read from the drawing itself: boxes of flags, grips and texts, whatever placed them.
"""

import itertools
import re
from dataclasses import replace
from xml.etree.ElementTree import Element

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from app import rules
from app.assess import ConstructAssessment, assess, load_knowledge
from app.case.models import Case, Construct, FractureLine
from app.drawing import View, draw_sketch, fitted_view
from app.drawing.boxes import nearest_free, spread
from app.drawing.scale import TEXT_U
from app.drawing.typeface import text_width
from app.geometry import Allowances, check_case, lay_out, summarise
from tests.drawing.constructs import CATALOGUE, SOME, SVG, assessed, parsed, warning
from tests.rules.judging import ulna
from tests.rules.test_properties import MIRRORED_BONES, mirrored_construct
from tests.strategies import constructs

PATIENT = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
MIRROR = replace(
    CATALOGUE,
    bones={
        name: replace(bone, short_tips=bone.short_tips and (1 - bone.short_tips[1], 1 - bone.short_tips[0]))
        for name, bone in MIRRORED_BONES.items()
    },
)
KNOWLEDGE = load_knowledge()
LEVELS: tuple[rules.Level, ...] = ("note", "caution", "stop")

Box = tuple[float, float, float, float]


def numbers(data: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", data)]


def box_of(element: Element, unit: float, parents: dict[Element, Element]) -> Box | None:
    """The box of a flag, a grip or a text; None for anything else. 9.5, 12 and 4 are what u's strokes and type take."""
    kind = (element.get("class") or "").split()
    if element.tag == f"{SVG}use" and (element.get("href") or "").startswith("#flag-"):
        x, y = float(element.attrib["x"]), float(element.attrib["y"])
        return x - 12.5 * unit, y - 12.5 * unit, x + 12.5 * unit, y + 12.5 * unit
    if element.tag == f"{SVG}path" and "knob" in kind:
        data = element.attrib["d"]
        if "a" in data:
            (x, y), r = numbers(data)[0], float(re.findall(r"a([\d.]+),", data)[0])
            return x, y - r, x + 2 * r, y + r
        if "h" in data:
            (x, y), side = numbers(data)[0], float(re.findall(r"h([\d.]+)", data)[0])
            return x, y, x + side, y + side
        xs, ys = zip(*numbers(data), strict=True)
        return min(xs), min(ys), max(xs), max(ys)
    if element.tag == f"{SVG}text":
        strong = "number" in kind and "warned-" in (parents[element].get("class") or "")
        width = text_width(element.text or "", TEXT_U * unit, strong=strong)
        x, y = float(element.attrib["x"]), float(element.attrib["y"])
        x -= {"start": 0.0, "middle": width / 2, "end": width}[element.get("text-anchor", "start")]
        return x, y - 11 * unit, x + width, y + 3 * unit
    return None


def boxes(root: Element, unit: float) -> list[tuple[str, Box]]:
    parents = {child: parent for parent in root.iter() for child in parent}
    found = []
    for element in root.iter():
        box = None if element in parents and parents[element].tag == f"{SVG}defs" else box_of(element, unit, parents)
        if box is not None:
            found.append((f"{element.get('class') or element.get('href')} {element.text or ''} {box}", box))
    return found


def covers(one: Box, other: Box, slack: float) -> bool:
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return wide > slack and high > slack


def assert_clear(svg: str) -> None:
    root = parsed(svg)
    left, _, width, height = map(float, root.attrib["viewBox"].split())
    unit = float(root.attrib["font-size"]) / TEXT_U
    found, slack = boxes(root, unit), 0.6 * unit
    assert found
    for name, (x0, y0, x1, y1) in found:
        assert left - slack <= x0, name
        assert x1 <= left + width + slack, name
        assert y0 >= -slack, name
        assert y1 <= height + slack, name
    for (name, one), (other_name, other) in itertools.combinations(found, 2):
        assert not covers(one, other, slack), f"{name} covers {other_name}"


@st.composite
def crowded(draw: st.DrawFn) -> Construct:
    """Any construct; some with more lines than others have."""
    made = draw(constructs())
    length = CATALOGUE.bones[made.bone.name].length_mm
    count = draw(st.sampled_from([0, 0, 3, 4]))
    if count:
        steps = draw(st.lists(st.integers(3, 30), min_size=count, max_size=count))
        leans = draw(st.lists(st.integers(-60, 60), min_size=count, max_size=count))
        start = length * draw(st.sampled_from([0.3, 0.4, 0.5]))
        places = itertools.accumulate(steps, initial=start)
        lines = tuple(
            FractureLine(position_mm=at, obliquity_deg=lean, zone_mm=0)
            for at, lean in zip(itertools.islice(places, 1, None), leans, strict=True)
        )
        made = made.model_copy(
            update={"fracture": made.fracture.model_copy(update={"lines": lines, "wedge": None, "gap_mm": 0.0})}
        )
    case = Case(format="fishplate-case/2", title="Crowded", constructs=(made,))
    assume(not check_case(case, CATALOGUE))
    return made


def warned(made: Construct, share: int) -> tuple[rules.Warning, ...]:
    """A warning about each part, about every second, …"""
    layout = lay_out(made, "normal", CATALOGUE, Allowances())
    parts = [f"h{place.number}" for place in layout.holes]
    parts += [screw.id for screw in layout.screws if screw.hole is None]
    parts += [f"line-{line.index}" for line in layout.fracture.lines]
    parts += [f"fragment-{one.name}" for one in layout.fracture.fragments]
    parts += ["plate", "bone", *(["wedge"] if layout.fracture.wedge else [])]
    return tuple(warning(LEVELS[n % 3], part) for n, part in enumerate(parts) if share and n % share == 0)


@PATIENT
@given(made=crowded(), share=st.integers(0, 3), interactive=st.booleans(), bold=st.sampled_from([1.0, 1.0, 1.6]))
def test_nothing_covers_another_and_nothing_is_cut_off(
    made: Construct, share: int, interactive: bool, bold: float
) -> None:
    one = assessed(made, warned(made, share))
    assert_clear(draw_sketch(one, interactive=interactive and bold == 1, bold=bold))


@pytest.mark.parametrize("made", SOME.values(), ids=SOME.keys())
def test_nothing_covers_another_in_usual_constructs(made: Construct) -> None:
    for share in (0, 1, 2):
        assert_clear(draw_sketch(assessed(made, warned(made, share))))


def seen(one: ConstructAssessment, view: View) -> list[tuple[str, float, float]]:
    """Places of all grips, flags, angles, names and letters; numbers and what is written at the ends are others."""
    root = parsed(draw_sketch(one, view=view))
    unit = float(root.attrib["font-size"]) / TEXT_U
    parents = {child: parent for parent in root.iter() for child in parent}
    found = []
    for element in root.iter():
        kind = element.get("class") or ""
        box = None if kind in {"soft", "number"} else box_of(element, unit, parents)
        if box is None or parents.get(element, root).tag == f"{SVG}defs":
            continue
        text = (element.text or element.get("href") or kind).replace("−", "")
        x = float(element.get("x") or (box[0] + box[2]) / 2)
        found.append((text, x, (box[1] + box[3]) / 2))
    return found


def turned_part(part: str, made: Construct) -> str:
    holes, lines = made.plate.holes, len(made.fracture.lines)
    if part.startswith("h"):
        return f"h{holes + 1 - int(part[1:])}"
    if part.startswith("line-"):
        return f"line-{lines - 1 - int(part[5:])}"
    if part.startswith("fragment-intermediate-"):
        return f"fragment-intermediate-{lines - int(part.rsplit('-', 1)[1])}"
    return {"fragment-proximal": "fragment-distal", "fragment-distal": "fragment-proximal"}.get(part, part)


@PATIENT
@given(made=crowded(), share=st.integers(0, 3))
def test_turned_end_for_end_everything_lies_mirrored(made: Construct, share: int) -> None:
    """What is its own mirror image has a tie to break, and is left out: centred plates, screws on the same spot."""
    length = CATALOGUE.bones[made.bone.name].length_mm
    assume(abs(made.plate.centre_mm - length / 2) > 0.1)
    assume(len({round(lag.position_mm) for lag in made.lag_screws}) == len(made.lag_screws))
    warnings = warned(made, share)
    turned_warnings = tuple(replace(w, subject=tuple(turned_part(part, made) for part in w.subject)) for w in warnings)
    here = assessed(made, warnings)
    layout = lay_out(mirrored_construct(made), "normal", MIRROR, Allowances())
    there = ConstructAssessment(0, layout, summarise(layout), turned_warnings)
    view = fitted_view(here.layout)
    found = seen(here, view)
    turned = seen(there, View(length - view.end_mm, length - view.start_mm))
    assert len(found) == len(turned)
    for text, x, y in found:
        places = [(length - other_x, other_y) for other, other_x, other_y in turned if other == text]
        assert any(abs(x - other_x) < 0.1 and abs(y - other_y) < 0.1 for other_x, other_y in places), (text, x, y)


@given(
    wanted=st.lists(st.floats(0, 100), min_size=1, max_size=8).map(sorted),
    gap=st.floats(0.5, 10),
)
def test_spread_keeps_gaps_order_and_mirror(wanted: list[float], gap: float) -> None:
    """No gap is broken, what has room stays, two that meet give way alike, and a mirror gives the mirror image."""
    gaps = [gap] * (len(wanted) - 1)
    found = spread(wanted, gaps, (-200.0, 300.0))
    assert all(b - a >= gap - 1e-9 for a, b in itertools.pairwise(found))
    if all(b - a >= gap for a, b in itertools.pairwise(wanted)):
        assert found == pytest.approx(wanted)
    mirrored = spread([100 - x for x in reversed(wanted)], gaps, (-200.0, 300.0))
    assert [100 - x for x in reversed(mirrored)] == pytest.approx(found)
    if len(wanted) == 2 and wanted[1] - wanted[0] < gap:
        assert sum(found) == pytest.approx(sum(wanted))  # two that meet give way alike


@given(wanted=st.lists(st.floats(0, 100), min_size=2, max_size=8).map(sorted), step=st.floats(0, 1))
def test_spread_moves_no_farther_than_a_hand_does(wanted: list[float], step: float) -> None:
    """Isotonic regression never enlarges a change (it is a projection): nothing jumps while one thing is dragged."""
    gaps = [5.0] * (len(wanted) - 1)
    moved = sorted([*wanted[:-1], wanted[-1] + step])
    before, after = (spread(one, gaps, (-200.0, 300.0)) for one in (wanted, moved))
    assert sum((a - b) ** 2 for a, b in zip(before, after, strict=True)) <= step**2 + 1e-9


@given(
    wanted=st.floats(0, 100),
    taken=st.lists(st.tuples(st.floats(0, 100), st.floats(0.1, 20)).map(lambda at: (at[0], at[0] + at[1])), max_size=6),
)
def test_the_nearest_free_place_is_free_and_none_is_nearer(wanted: float, taken: list[tuple[float, float]]) -> None:
    def free(x: float) -> bool:
        return 0 <= x <= 100 and not any(a + 1e-5 < x < b - 1e-5 for a, b in taken)

    found = nearest_free(wanted, (0.0, 100.0), taken)
    tries = [n / 4 for n in range(401)]
    if found is None:
        assert not any(free(x) for x in tries)
        return
    assert free(found)
    assert all(abs(x - wanted) >= abs(found - wanted) - 1e-4 for x in tries if free(x))


@given(
    peak=st.floats(1, 4000),
    at=st.floats(0.02, 0.98),
    fatigue=st.floats(100, 900),
    strength=st.floats(100, 1200),
)
@settings(max_examples=100, deadline=None)
def test_words_of_the_stress_chart_keep_clear(peak: float, at: float, fatigue: float, strength: float) -> None:
    one = assess(ulna(), KNOWLEDGE).constructs[0]
    assert one.mechanics is not None
    assert one.mechanics.plate is not None
    view = fitted_view(one.layout)
    s = view.start_mm + at * view.width_mm
    plate = replace(
        one.mechanics.plate,
        s_mm=(s - 1, s, s + 1),
        stress_mpa=(0.0, peak, 0.0),
        peak_mpa=peak,
        peak_s_mm=s,
        fatigue_mpa=fatigue,
        yield_mpa=strength,
    )
    assert_clear(draw_sketch(replace(one, mechanics=replace(one.mechanics, plate=plate))))
