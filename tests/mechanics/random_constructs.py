"""Random constructs for property tests: tapered bone, one to three lines of any obliquity, every kind of screw."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from app.mechanics import BoneProfile, Construct, FractureLine, Friction, LagScrew, LoadCase, Plate, Screw, Supports
from app.mechanics.model import ScrewKind, Support

_KINDS: tuple[ScrewKind | None, ...] = (None, "locking-2", "locking-2", "locking-1", "clamped")


def _number(low: float, high: float) -> st.SearchStrategy[float]:
    """Round numbers between the bounds: they shrink well and keep failures readable."""
    return st.integers(0, 20).map(lambda k: low + (high - low) * k / 20.0)


@st.composite
def bones(draw: st.DrawFn, length: float) -> BoneProfile:
    at = (0.0, length / 3.0, length / 2.0, length)
    depth = tuple(draw(_number(18.0, 30.0)) for _ in at)
    width = tuple(draw(_number(18.0, 30.0)) for _ in at)
    cortex = tuple(draw(_number(2.0, 7.0)) for _ in at)
    modulus = draw(_number(3_000.0, 20_000.0))
    return BoneProfile(at, depth, width, cortex, modulus, modulus / 2.6, 51.6)


def _fragment_at(lines: tuple[FractureLine, ...], s: float, rise: float) -> int | None:
    """Fragment at position `s` on a surface `rise` above the axis; None inside a zone."""
    fragment = 0
    for line in lines:
        crossing = line.s_mm - rise * math.tan(math.radians(line.obliquity_deg))
        if abs(s - crossing) < line.zone_mm / 2.0:
            return None
        fragment += s > crossing
    return fragment


@st.composite
def lines_over(draw: st.DrawFn, holes: tuple[float, ...], gaps: st.SearchStrategy[float]) -> tuple[FractureLine, ...]:
    count = draw(st.integers(1, 3 if len(holes) >= 11 else 2))
    cuts = [len(holes) * (k + 1) // (count + 1) for k in range(count)]
    lines = []
    for cut in cuts:
        share = draw(_number(0.1, 0.9))
        s = holes[cut - 1] + share * (holes[cut] - holes[cut - 1])
        angle = draw(st.sampled_from((0.0, 0.0, 20.0, -35.0, 45.0 if count == 1 else 10.0)))
        lines.append(FractureLine(s, angle, draw(st.sampled_from((0.0, 0.0, 10.0))), draw(gaps)))
    return tuple(lines)


@st.composite
def constructs(
    draw: st.DrawFn, gaps: st.SearchStrategy[float] | None = None, preload: bool = False, shear_flexible: bool = True
) -> Construct:
    holes_count, pitch = draw(st.integers(7, 14)), draw(_number(12.0, 20.0))
    length = pitch * holes_count + draw(_number(40.0, 220.0))
    first = draw(_number(0.1, 0.9)) * (length - pitch * (holes_count - 1))
    holes = tuple(first + pitch * k for k in range(holes_count))
    bone = draw(bones(length))
    lines = draw(lines_over(holes, _number(0.5, 8.0) if gaps is None else gaps))
    modulus = draw(st.sampled_from((110_000.0, 190_000.0)))
    plate = Plate(
        draw(_number(9.0, 16.0)),
        draw(_number(2.5, 5.5)),
        4.5,
        8.0,
        holes,
        draw(_number(0.0, 5.0)),
        modulus,
        modulus / 2.6,
        690.0,
        380.0,
        860.0,
    )
    screws = []
    for number, s in enumerate(holes, start=1):
        kind = draw(st.sampled_from(_KINDS))
        if kind is None:
            continue
        near, far = _fragment_at(lines, s, 11.0), _fragment_at(lines, s, -11.0)
        core = 3.0 if kind == "clamped" else 3.8
        shift = draw(st.sampled_from((0.0, -1.0))) if preload and kind == "clamped" and near == len(lines) else 0.0
        screws.append(
            Screw(f"{number}", number, kind, core, 4.5, 1.75, 190_000.0, 690.0, near, far, 1000.0, shift, 500.0)
        )
    lags: tuple[LagScrew, ...] = ()
    if preload and draw(st.booleans()):
        s = lines[0].s_mm
        lags = (LagScrew("lag", s - 6.0, s + 6.0, 0, 1, 2.4, 3.5, 1.25, 190_000.0, draw(_number(0.0, 1500.0))),)
    load = LoadCase(
        draw(_number(-300.0, 800.0)), draw(_number(-8e3, 8e3)), draw(_number(0.0, 5e3)), draw(_number(0.0, 5e3))
    )
    ends: st.SearchStrategy[Support] = st.sampled_from(("ball", "held"))
    return Construct(
        bone,
        plate,
        tuple(screws),
        lines,
        Friction(0.35, 0.4),
        load,
        Supports(draw(ends), draw(ends)),
        lags,
        draw(st.sampled_from((0.0, 1.0))) if preload else 0.0,
        shear_flexible,
    )
