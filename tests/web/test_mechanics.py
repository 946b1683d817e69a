"""The mechanics panel, the loads it is looked at under, and the validation page."""

import json
import re
from collections.abc import Callable
from html import unescape
from itertools import groupby
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.assess import assess, load_knowledge
from app.case import parse_case
from app.catalogue.loads import load_presets
from app.mechanics import Supports
from app.mechanics.of_layout import Loading
from app.mechanics.validation.bench_cases import BENCH_CASES
from app.mechanics.validation.bench_runs import run_bench_cases
from app.mechanics.validation.closed_forms import closed_forms
from app.mechanics.validation.solids import run_solids
from app.web.panels.loading import LoadChoice, query_of, read_choice
from app.web.panels.mechanics import place_on_gauge
from tests.cases import humerus, with_change
from tests.client import Stored

OWN = {"stage": "own", "axial_n": 400, "bending_nm": 3, "torsion_nm": 2}
UNSTABLE = with_change("constructs.0.holes", [{"role": "neutral"}, *[{"role": "empty"}] * 7, {"role": "neutral"}])
MOVE = {"op": "move_plate", "centre_mm": 162}


def bridged() -> dict[str, Any]:
    """The humerus with a zone, bridged by locking screws."""
    document = humerus()
    construct = document["constructs"][0]
    roles = ["locking-2", "locking-2", "locking-2", *["empty"] * 3, "locking-2", "locking-2", "locking-2"]
    construct["holes"] = [{"role": role} for role in roles]
    construct["principle"] = "bridging"
    construct["fracture"] = {"code": "12C3", "lines": [{"position_mm": 160, "zone_mm": 20}]}
    construct["plate"]["series"] = "large-narrow-4.5"
    return document


def figure(html: str, name: str) -> str:
    found = re.search(f'id="figure-{name}" data-figure="([^"]*)"', html)
    assert found, f"no figure {name}"
    return unescape(found[1])


def panel(answer: Any) -> str:
    assert answer.status_code == 200, answer.text
    html: str = answer.json()["panels"]["mechanics"]
    return html


def expected(document: dict[str, Any], loading: Loading) -> Any:
    return assess(parse_case(json.dumps(document)), load_knowledge(), {0: loading}).constructs[0].mechanics


def test_panel_tells_every_answer(client: TestClient) -> None:
    case = Stored(client, bridged())
    html = panel(case.preview(None))
    preset = load_presets()["humerus"]["protected"]
    loading = Loading("protected", preset.axial_n, preset.bending_nm, preset.torsion_nm)
    result = expected(bridged(), loading)
    assert float(figure(html, "axial").split()[0].replace(",", "")) == pytest.approx(
        result.axial_stiffness_n_per_mm, rel=5e-3
    )
    for name in ("bending-tension", "bending-compression", "torsion"):
        assert figure(html, name).endswith("N·m/°")
    assert float(figure(html, "motion-0-far").split()[0]) == pytest.approx(abs(result.lines[0].motion.far_mm), abs=6e-3)
    assert figure(html, "peak-stress").startswith(f"{result.plate.peak_mpa:.0f} MPa")
    assert figure(html, "fatigue-ratio") == f"{result.plate.fatigue_ratio:.2f}"
    assert figure(html, "yield-ratio") == f"{result.plate.yield_ratio:.2f}"
    assert figure(html, "friction") == "no clamped fragment"
    assert figure(html, "pull-out").endswith("%")
    assert figure(html, "faces-0") == "open"
    assert html.count("odel estimate for comparing layouts, not a prediction for a patient") == 1
    assert preset.figure.source.split("(")[0].strip() in unescape(html)
    assert f"({preset.figure.standing})" in html


def test_marks_of_the_gauge_lie_where_the_strain_is(client: TestClient) -> None:
    """Log scale from 0.1 to 1000 %: 1 % a quarter, 10 % half, 100 % three quarters along."""
    assert [place_on_gauge(x) for x in (0.1, 1, 10, -100, 1000)] == pytest.approx([0, 25, 50, 75, 100])
    assert (place_on_gauge(0), place_on_gauge(5000)) == (0, 100)
    html = panel(Stored(client, bridged()).preview(None))
    for side in ("near", "far"):
        place = float(re.search(f'id="gauge-0-{side}"[^>]*data-place="([0-9.]+)"', html)[1])  # type: ignore[index]
        told = float(figure(html, f"gauge-0-{side}").split(" %")[0])
        assert place == pytest.approx(place_on_gauge(told), abs=1.2)


def test_closed_faces_have_no_mark_and_say_so(client: TestClient) -> None:
    html = panel(Stored(client, humerus()).preview(None))
    assert "closed" in figure(html, "gauge-0-near")
    assert 'id="gauge-0-near"' not in html


def test_previews_and_edits_tell_before_and_after(client: TestClient) -> None:
    case = Stored(client, bridged())
    before = figure(panel(case.preview(None)), "torsion")
    free = {"op": "set_role", "hole": 2, "role": "empty"}
    for answer in (case.preview(free), case.edit(free)):
        html = panel(answer)
        after = figure(html, "torsion")
        assert after != before
        assert f'<del class="was"><span class="unseen">before </span>{before}</del>' in html
        assert "of the layout before" in html
    back = panel(case.move("undo"))
    assert figure(back, "torsion") == before
    assert f'<del class="was"><span class="unseen">before </span>{after}</del>' in back
    assert "<del" not in panel(case.preview(None))


def test_unstable_says_why_instead_of_figures(client: TestClient) -> None:
    html = panel(Stored(client, UNSTABLE).preview(None))
    assert "nstable:" in html
    assert "turns about its only screw" in html
    assert "figure-axial" not in html
    drawing = Stored(client, UNSTABLE).preview(None).json()["drawing"]
    assert "No curve: unstable" in drawing


def test_load_changes_what_is_told_and_not_the_case(client: TestClient) -> None:
    case = Stored(client, bridged())
    plain = panel(case.preview(None))
    own = panel(case.preview(None, loading=[{"construct": 0, **OWN, "distal": "held"}]))
    result = expected(bridged(), Loading("own", 400, 3, 2, Supports("ball", "held")))
    assert figure(own, "peak-stress").startswith(f"{result.plate.peak_mpa:.0f} MPa")
    assert figure(own, "peak-stress") != figure(plain, "peak-stress")
    assert "distal end held" in own
    assert "distal end held" not in plain
    full = panel(case.preview(None, loading=[{"construct": 0, "stage": "full"}]))
    preset = load_presets()["humerus"]["full"]
    assert f'value="{preset.axial_n:g}"' in full
    kept = panel(case.edit(MOVE, loading=[{"construct": 0, "stage": "full"}]))
    assert f'value="{preset.axial_n:g}"' in kept
    assert "loading" not in json.dumps(case.get()["case"])
    assert f'value="{preset.axial_n:g}"' in panel(
        client.post(
            f"{case.path}/undo",
            json={"loading": [{"construct": 0, "stage": "full"}]},
            headers={"If-Match": f'"{case.get()["version"]}"'},
        )
    )


def test_a_preset_follows_the_bone(client: TestClient) -> None:
    case = Stored(client, bridged())
    chosen = [{"construct": 0, "stage": "partial"}]
    construct = {**bridged()["constructs"][0], "bone": {"name": "femur"}}
    edit = {"op": "replace_construct", "target": 0, "value": construct}
    construct["fracture"] = {"lines": [{"position_mm": 160, "zone_mm": 20}]}
    html = panel(case.preview(edit, loading=chosen))
    assert f'value="{load_presets()["femur"]["partial"].axial_n:g}"' in html


@pytest.mark.parametrize(
    "wrong",
    [
        {"stage": "full", "axial_n": 100},
        {"stage": "own", "axial_n": 100},
        {**OWN, "axial_n": 10_001},
        {**OWN, "axial_n": -1},
        {**OWN, "bending_nm": 251},
        {**OWN, "torsion_nm": -0.1},
        {"stage": "heavy"},
        {"proximal": "pinned"},
        {"construct": 4},
        {"colour": "blue"},
    ],
)
def test_loads_out_of_range_are_refused(stored: Stored, wrong: dict[str, Any]) -> None:
    answer = stored.preview(None, loading=[{"construct": 0, **wrong}])
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["path"].startswith("loading.0")


def test_loads_of_bones_that_are_not_there_count_for_nothing(stored: Stored) -> None:
    assert panel(stored.preview(None, loading=[{"construct": 3, "stage": "full"}])).count("<option") == 8


def test_address_and_choice_say_the_same() -> None:
    choices = (
        LoadChoice(construct=0, stage="partial"),
        LoadChoice.model_validate({"construct": 1, **OWN, "bending_nm": -2.5, "proximal": "held"}),
    )
    assert [read_choice(choice.text) for choice in choices] == list(choices)
    assert query_of((*choices, LoadChoice(construct=2))) == (
        "&loading=0,partial,ball,ball&loading=1,own,400,-2.5,2,held,ball"
    )


def test_first_paint_is_under_the_load_of_the_address(client: TestClient) -> None:
    case = Stored(client, bridged())
    page = client.get(f"/cases/{case.id}?construct=0&loading=0,own,400,3,2,ball,held").text
    html = panel(case.preview(None, loading=[{"construct": 0, **OWN, "distal": "held"}]))
    assert figure(page, "peak-stress") == figure(html, "peak-stress")
    assert 'data-query="&amp;loading=0,own,400,3,2,ball,held"' in page
    assert figure(page, "peak-stress") != figure(client.get(f"/cases/{case.id}").text, "peak-stress")


@pytest.mark.parametrize("wrong", ["", "0,full", "0,own,1,2,ball,ball", "x,full,ball,ball", "0,own,nan,1,1,ball,ball"])
def test_nonsense_in_the_address_is_refused_in_words(client: TestClient, stored: Stored, wrong: str) -> None:
    answer = client.get(f"/cases/{stored.id}", params={"loading": wrong})
    assert answer.status_code == 422
    assert "The loading in the address is not one" in answer.text


def rows_of(page: str) -> list[tuple[str, str]]:
    pattern = r'<tr data-quantity="([^"]*)">.*?<span class="verdict[^"]*">(?:✗ )?([^<]*)</span>'
    return [(unescape(quantity), verdict) for quantity, verdict in re.findall(pattern, page, re.DOTALL)]


def test_validation_shows_every_bench_figure_and_its_verdict(client: TestClient) -> None:
    page = client.get("/validation").text
    rows = run_bench_cases()
    assert rows_of(page) == [(row.quantity, row.verdict) for row in rows]
    missed = [row for row in rows if row.verdict in ("outside", "trend fails")]
    assert f'<strong id="misses">{len(missed)}</strong>' in page
    benches = page[page.index('id="bench-tests"') :]
    assert benches.count("✗") == len(missed)
    text = unescape(page)
    for case in BENCH_CASES:
        for told in (case.title, case.set_up, case.missing, case.figure, case.tolerance, case.cause, case.source):
            assert told in text


def test_validation_shows_closed_forms_worked_out(client: TestClient) -> None:
    page = unescape(client.get("/validation").text)
    forms = closed_forms()
    assert all(form.agrees for form in forms)
    for form in forms:
        assert form.name in page
        assert f"{form.model:.5g} {form.unit}" in page
        assert f"{form.closed_form:.5g} {form.unit}" in page


def test_validation_shows_every_figure_of_the_solids_and_why_some_lie_outside(client: TestClient) -> None:
    page = client.get("/validation").text
    part = page[page.index('id="solids"') : page.index('id="unknowns"')]
    rows = run_solids()
    missed = [row for row in rows if row.verdict == "outside"]
    assert f'<strong id="solid-misses">{len(missed)}</strong>' in part
    assert part.count("✗") == len(missed)
    for quantity, of_quantity in groupby(rows, key=lambda row: row.quantity.name):
        told = part[part.index(f'<th scope="row">{quantity}</th>') :]
        cells = re.findall(r'<td class="figure">(.*?)</td>', told[: told.index("</tr>")])[1:]
        written = [(float(re.findall(r"[\d.]+", cell)[-1]), "outside" in cell) for cell in cells]
        assert written == [
            (round(row.ratio, 3), True) if row.verdict == "outside" else (round(row.ratio, 2), False)
            for row in of_quantity
        ]
    for row in missed:
        assert str(row.cause) in unescape(part)


def test_the_panel_and_every_page_lead_to_validation(client: TestClient, stored: Stored) -> None:
    reads: list[Callable[[], str]] = [lambda: client.get("/").text, lambda: panel(stored.preview(None))]
    assert all('href="/validation"' in read() for read in reads)


def test_what_lets_figures_jump_is_named(stored: Stored) -> None:
    """The demand is our own: the plate slid until a screw holds the other fragment."""
    assert "mech-events" not in panel(stored.preview(None))
    slid = panel(stored.edit({"op": "move_plate", "centre_mm": 175}))
    assert re.search(r'id="mech-events">Figures may jump here: the screw in hole \d ', slid)
