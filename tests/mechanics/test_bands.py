"""Bands: the design, its symmetries, and that what is known to matter moves the figures the way theory says.

Latin property of a rank-1 lattice with a primitive root: number theory (3, 5, … are generators of the units of a
prime). Direction of the effects: beam on an elastic foundation (Hetényi, from memory): a softer foundation is never
stiffer; elasticity: an open gap's strains don't depend on friction.
"""

import math
from dataclasses import fields, replace

import pytest

from app.assess import assess, drawn, load_knowledge
from app.catalogue.unknowns import DRAWS, NAMES, unknowns
from app.figures.bands import Band, band, band_text, banded
from app.figures.mechanics import AXIAL, MOVED, STIFFNESS, TORSION
from app.mechanics import LoadCase, analyse
from app.mechanics.bands import Draw, draws, solved, varied
from app.mechanics.of_layout import model_of
from app.samples import load_samples

KNOWLEDGE = load_knowledge()
SAMPLES = {sample.key[:2]: sample.case for sample in load_samples()}
PLAIN = Draw(
    foundation=1.0,
    bone_modulus=1.0,
    friction_plate_bone=0.37,
    friction_bone_bone=0.36,
    clamp=1.0,
    friction_head=0.2,
    slot=1.0,
)


def model(key: str):  # type: ignore[no-untyped-def]
    one = assess(SAMPLES[key], KNOWLEDGE).constructs[0]
    assert one.loading is not None
    return model_of(one.layout, KNOWLEDGE.catalogue, one.loading)


def test_each_unknown_takes_each_part_of_its_range_once() -> None:
    assert tuple(field.name for field in fields(Draw)) == NAMES
    for one in unknowns():
        values = sorted(getattr(draw, one.name) for draw in draws())
        assert values == pytest.approx([one.at((k + 0.5) / DRAWS) for k in range(DRAWS)])
        assert one.low < values[0] < values[-1] < one.high


def test_no_two_unknowns_move_together() -> None:
    """Pearson's r between any two stays small, so that none stands for another."""
    for i, first in enumerate(NAMES):
        for second in NAMES[i + 1 :]:
            x, y = ([math.log(getattr(d, name) + 0.01) for d in draws()] for name in (first, second))
            mx, my = sum(x) / DRAWS, sum(y) / DRAWS
            r = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / math.sqrt(
                sum((a - mx) ** 2 for a in x) * sum((b - my) ** 2 for b in y)
            )
            assert abs(r) < 0.4, (first, second)


def test_the_usual_figures_are_one_of_what_may_be_true() -> None:
    for key in ("01", "04"):
        assert analyse(varied(model(key), PLAIN)) == analyse(model(key))


@pytest.mark.parametrize("key", ["01", "04", "05", "08"])
def test_a_softer_hold_and_softer_bone_are_never_stiffer(key: str) -> None:
    found = model(key)
    usual = analyse(varied(found, PLAIN))
    for softer in (replace(PLAIN, foundation=0.2), replace(PLAIN, bone_modulus=0.86)):
        answer = analyse(varied(found, softer))
        for figure in (AXIAL, TORSION):
            now, was = figure.read(answer), figure.read(usual)
            assert isinstance(now, float)
            assert isinstance(was, float)
            assert now <= was * (1 + 1e-9), figure.id


def test_over_an_open_gap_friction_and_tightening_of_locking_screws_change_nothing() -> None:
    found = model("04")
    usual = analyse(varied(found, PLAIN))
    for draw in (replace(PLAIN, friction_bone_bone=0.5), replace(PLAIN, friction_head=0.3), replace(PLAIN, clamp=1.5)):
        assert analyse(varied(found, draw)).torsional_stiffness_nm_per_deg == usual.torsional_stiffness_nm_per_deg


@pytest.mark.parametrize("key", sorted(SAMPLES))
def test_every_figure_lies_in_its_band(key: str) -> None:
    for one in assess(SAMPLES[key], KNOWLEDGE).constructs:
        assert one.mechanics is not None
        answers = drawn(one, KNOWLEDGE.catalogue)
        assert len(answers) == (DRAWS if one.mechanics.unstable is None else 0)
        found = list(banded(one.mechanics, answers))
        assert {each.figure.id for each in found} >= {figure.id for figure in STIFFNESS}
        for each in found:
            usual = each.figure.read(one.mechanics if each.line is None else one.mechanics.lines[each.line])
            assert each.band.low <= each.band.high
            assert usual is None or each.band.low <= float(usual) <= each.band.high
        assert any(each.band.high > each.band.low * 1.02 > 0 for each in found)


def test_what_holds_nothing_has_no_band() -> None:
    one = assess(SAMPLES["04"], KNOWLEDGE).constructs[0]
    assert one.loading is not None
    bare = replace(model_of(one.layout, KNOWLEDGE.catalogue, one.loading), screws=())
    assert analyse(bare).unstable is not None
    assert solved(bare) == ()


def test_bands_in_words() -> None:
    near = MOVED[0]
    assert band_text(near, Band(-0.51, -0.2)) == "0.20 to 0.51"
    assert band_text(near, Band(-0.2, 0.3)) == "-0.20 to 0.30"
    assert band_text(AXIAL, Band(1041.0, 1049.0)) == "1,040 to 1,050"
    assert band_text(AXIAL, Band(1041.0, 1042.0)) == ""
    assert band_text(AXIAL, Band(1.0, 1.0, lacking=3, of=24)) == "1 to 1, none in 3 of 24"
    assert band(AXIAL, []) is None


@pytest.mark.parametrize("key", sorted(SAMPLES))
def test_no_screw_is_tightened_beyond_what_its_bone_bears(key: str) -> None:
    """Most of its pull-out force, and of what an answer tells; where nothing but tightening pulls."""
    for one in assess(SAMPLES[key], KNOWLEDGE).constructs:
        assert one.loading is not None
        found = model_of(one.layout, KNOWLEDGE.catalogue, one.loading)
        for draw in draws():
            rest = replace(varied(found, draw), load=LoadCase())
            assert all(screw.clamp_force_n <= screw.grip_n for screw in rest.screws)
            assert all(screw.compression_limit_n <= screw.clamp_force_n for screw in rest.screws)
            assert all(lag.force_n <= lag.grip_n for lag in rest.lag_screws)
            beside = {lag.id for lag in rest.lag_screws}
            ratios = [s.pull_out_ratio for s in analyse(rest).screws if s.id in beside and s.pull_out_ratio is not None]
            assert len(ratios) == len(beside)
            assert all(ratio <= 0.62 for ratio in ratios)  # 0.6 of what the cortex holds where it is straight
