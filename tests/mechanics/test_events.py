"""Between two positions of a drag no figure jumps unless something is named that lets it. The demand is our own."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from app.assess import load_knowledge
from app.case import Case, InvalidCase, apply
from app.case.edits import MoveFracture, MovePlate, SetObliquity, SetRole, SingleEdit
from app.geometry import Layout, check_case, lay_out
from app.mechanics import MechanicsResult
from app.mechanics.events import events
from app.mechanics.of_layout import mechanics_of, preset_loading
from app.samples import Sample, load_samples

KNOWLEDGE = load_knowledge()
SAMPLES = load_samples()
REACH_MM, STEP = 5.0, 0.1  # to either side of where the sample stands


def solved(case: Case) -> tuple[Layout, MechanicsResult]:
    layout = lay_out(case.constructs[0], case.bone_quality, KNOWLEDGE.catalogue, KNOWLEDGE.allowances)
    return layout, mechanics_of(layout, KNOWLEDGE.catalogue, preset_loading(layout.bone.name))


def figures(result: MechanicsResult) -> dict[str, tuple[float, float]]:
    """Each figure with the change of it that the page does not show."""
    assert result.plate is not None
    found = {
        "axial": (result.axial_stiffness_n_per_mm, 1.0),
        "bending, tension": (result.bending_stiffness_plate_tension_nm_per_deg, 0.01),
        "bending, compression": (result.bending_stiffness_plate_compression_nm_per_deg, 0.01),
        "lateral": (result.lateral_stiffness_nm_per_deg, 0.01),
        "torsion": (result.torsional_stiffness_nm_per_deg, 0.01),
        "peak": (result.plate.peak_mpa, 1.0),
    }
    for number, line in enumerate(result.lines):
        found |= {
            f"near {number}": (line.motion.near_mm, 0.001),
            f"far {number}": (line.motion.far_mm, 0.001),
            # out of the profile's plane nine points stick or slide: as another one sticks, this may move by a little
            f"shear {number}": (line.motion.shear_mm, 0.003),
        }
    found |= {f"pull {screw.id}": (screw.pull_n, 2.0) for screw in result.screws}  # of hundreds that it holds
    return {name: (value or 0.0, least) for name, (value, least) in found.items()}


def along(sample: Sample, kind: str) -> Iterator[tuple[float, Case]]:
    construct = sample.case.constructs[0]
    middle = {
        "position": construct.fracture.lines[0].position_mm,
        "obliquity": construct.fracture.lines[0].obliquity_deg,
        "plate": construct.plate.centre_mm,
    }[kind]
    for value in np.round(np.arange(middle - REACH_MM, middle + REACH_MM + STEP / 2, STEP), 2).tolist():
        edits: dict[str, SingleEdit] = {
            "position": MoveFracture(position_mm=value),
            "obliquity": SetObliquity(obliquity_deg=value),
            "plate": MovePlate(centre_mm=value),
        }
        try:
            case = apply(sample.case, edits[kind])
        except InvalidCase:
            continue
        if not check_case(case, KNOWLEDGE.catalogue):
            yield value, case


@pytest.mark.parametrize("kind", ["position", "obliquity", "plate"])
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.key)
def test_no_figure_jumps_without_an_event(sample: Sample, kind: str) -> None:
    last, steps = None, 0
    for value, case in along(sample, kind):
        layout, result = solved(case)
        if last is not None and last[1].unstable is None and result.unstable is None:
            named, old, now = events(*last, layout, result), figures(last[1]), figures(result)
            jumps = [
                (value, name, was, is_)
                for name, (is_, least) in now.items()
                for was, _ in (old.get(name, (0.0, 0.0)),)
                if abs(is_ - was) > max(0.05 * abs(was), least)
            ]
            assert named or not jumps, jumps
            steps += 1
        last = layout, result
    assert steps > 50


def test_events_are_told_by_screw_and_cortex() -> None:
    """The clavicle's eccentric screw in hole 5 at 93 mm: as the fracture passes it, it pushes the other way."""
    sample = next(one for one in SAMPLES if one.key.startswith("09"))
    before, after = (solved(apply(sample.case, MoveFracture(position_mm=at))) for at in (92.9, 93.1))
    named = events(*before, *after)
    assert "the eccentric screw in hole 5 pushes the other way" in named
    assert "the near cortex is no longer pressed by tightening" in named
    assert events(*before, *before) == ()


def test_a_screw_that_loses_its_fragment_is_told_and_one_taken_out_is_not() -> None:
    sample = next(one for one in SAMPLES if one.key.startswith("04"))
    at = sample.case.constructs[0].plate.centre_mm
    before = solved(sample.case)
    moved = [events(*before, *solved(apply(sample.case, MovePlate(centre_mm=at + far)))) for far in (-45.0, 45.0)]
    assert any("loses the" in words and "cortex" in words for named in moved for words in named), moved
    filled = next(n for n, hole in enumerate(sample.case.constructs[0].holes) if hole.role != "empty")
    without = solved(apply(sample.case, SetRole(hole=filled, role="empty")))
    assert not any(f"hole {filled + 1}" in words for words in events(*before, *without))
