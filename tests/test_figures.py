"""The one table of figures: each stands for itself, reads what was worked out, and is called the same everywhere."""

from itertools import chain

import pytest

from app.assess import assess, load_knowledge
from app.compare import Column, compare
from app.document import schema
from app.figures import FIGURES, NONE, TABLES, Figure
from app.figures.bands import Band, band_text
from app.figures.construct import BRIDGING_SPAN, HOLD, SCREW_DENSITY, TRAVEL, WHOLE
from app.figures.figure import decimals, hundredths, significant
from app.figures.mechanics import AXIAL, BENDING_TENSION, MARGIN, MOVED, OPENS_FACTOR, PLATE, STIFFNESS, TORSION, WORST
from app.mechanics.answers import InterfaceAnswer, LineAnswer, Motion, Strain
from app.samples import load_samples
from app.sheet.words import figures, mechanics_words
from app.web.panels.conference import FIGURES as ON_THE_WALL
from app.web.panels.mechanics import mechanics_view
from app.web.panels.summary import FRAGMENT_COLUMNS, summary_view

KNOWLEDGE = load_knowledge()
ONES = [one for sample in load_samples() for one in assess(sample.case, KNOWLEDGE).constructs]


def test_each_figure_has_an_id_of_its_own() -> None:
    ids = [figure.id for figure in chain.from_iterable(TABLES)]
    assert len(ids) == len(FIGURES)
    assert set(ON_THE_WALL) <= set(FIGURES)


@pytest.mark.parametrize(
    ("form", "value", "text"),
    [
        (decimals(1), 62.04, "62.0"),
        (decimals(1), -0.04, "0.0"),
        (significant(3), 1234.4, "1,230"),
        (significant(3), 0.012345, "0.0123"),
        (significant(2), 6.17, "6.2"),
        (hundredths, 0.1234, "0.12"),
        (hundredths, 0.0999, "0.100"),
        (hundredths, -0.0001, "0.000"),
    ],
)  # the rules of rounding (half aside, ISO 80000-1, annex B)
def test_numbers_are_written_with_as_many_digits_as_they_are_worth(form, value: float, text: str) -> None:  # type: ignore[no-untyped-def]
    assert form(value) == text


def test_what_looks_the_same_counts_as_the_same() -> None:
    figure: Figure[float] = Figure("one", "Group", "One", "mm", lambda of: of)
    assert figure.shown(1.04) == figure.shown(0.96) == 1.0
    assert figure.told(1.04) == "1.0 mm"
    nothing: Figure[float] = Figure("none", "Group", "None", "mm", lambda _: None)
    assert (nothing.told(1.0), nothing.shown(1.0)) == (NONE, None)


def test_panel_and_comparison_say_the_same_of_every_sample() -> None:
    for one in ONES:
        rows = {(row.group, row.name): row for row in compare((Column("A", one), Column("B", one))).rows}
        shown = {figure.id: figure for figure in summary_view(one).whole}
        for figure in WHOLE:
            row = rows["Construct", figure.label]
            said = f"{row.texts[0]} {row.unit}".strip() if row.texts[0] != NONE else NONE
            assert shown[figure.id].label == figure.label
            assert shown[figure.id].text.removesuffix(_counted(shown[figure.id].text)) == said
        view = mechanics_view(one, (), KNOWLEDGE)
        assert view is not None
        told = {figure.id: figure.text for _, group in view.groups for figure in group}
        for stiffness in STIFFNESS:
            row = rows["Stiffness", stiffness.label]
            if stiffness.id in told:
                assert told[stiffness.id] == f"{row.texts[0]} {row.unit}"
        assert {figure.id for figure in WORST} <= set(told) or view.unstable is not None


def _counted(text: str) -> str:
    return text[text.index(" (") :] if " (" in text else ""


def test_the_sheet_takes_names_and_numbers_from_the_table() -> None:
    for one in ONES:
        rows = dict(figures(one))
        for figure in (BRIDGING_SPAN, SCREW_DENSITY, TRAVEL):
            assert rows.get(figure.label, NONE) == figure.told(one.summary)
        result, words = one.mechanics, mechanics_words(one).replace("\u00a0", " ")
        assert result is not None
        for stiffness in (AXIAL, BENDING_TENSION, TORSION):
            assert result.unstable is not None or f"{stiffness.full_name[1:]} {stiffness.told(result)}" in words


def test_columns_say_their_unit() -> None:
    assert FRAGMENT_COLUMNS == ("Screws", "Cortices", "Spread, mm", "Nearest screw, mm")
    assert [figure.label for figure in HOLD] == ["Screws", "Cortices", "Spread", "Nearest screw"]


def test_figures_of_a_result_need_nothing_but_the_result() -> None:
    """A map of layouts has results and no pages."""
    result = next(one.mechanics for one in ONES if one.mechanics is not None and one.mechanics.unstable is None)
    for figure in (*STIFFNESS, *PLATE, *WORST):
        assert figure.shown(result) is None or figure.text(result) != NONE
    assert all(figure.shown(line) is not None for figure in MOVED for line in result.lines)


def test_the_schema_says_what_each_figure_is_called() -> None:
    definitions = schema("assessment")["$defs"]
    written = {figure.full_name: figure.document.partition(".") for figure in FIGURES.values() if figure.document}
    assert len(written) > 5
    told = {name: definitions[kind]["properties"][field]["description"] for name, (kind, _, field) in written.items()}
    assert [name for name, words in told.items() if not words.startswith(name)] == []


def test_what_opens_only_far_beyond_the_load_is_told_without_digits_that_say_nothing() -> None:
    """Ten times the load is more than a limb is used for: our own border. Two beyond it count as the same."""

    def line(factor: float) -> LineAnswer:
        contact = InterfaceAnswer(True, True, True, True, True, 900.0, factor, None, None, factor - 1.0, 0.1)
        return LineAnswer(Motion(0.0, 0.0, 0.0, 0.0, 0.0), Strain(None, None, "touch"), contact)

    assert [OPENS_FACTOR.told(line(times)) for times in (0.874, 9.996, 10.0, 272.65)] == [
        "87 %", "1000 %", "1000 %", "over 1000 %",
    ]  # fmt: skip
    assert [MARGIN.text(line(times)) for times in (0.87, 10.0, 272.65)] == ["-13", "+900", "over +900"]
    assert OPENS_FACTOR.shown(line(50.0)) == OPENS_FACTOR.shown(line(270.0)) == 1000
    assert band_text(OPENS_FACTOR, Band(350.0, 27_265.0)) == "350 to over 1000"
    assert band_text(OPENS_FACTOR, Band(5_000.0, 27_265.0)) == ""
