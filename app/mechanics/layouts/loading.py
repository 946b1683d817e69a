"""The figures of one group's layouts, part by part: loads, contact, stiffness, motion, stress and screws."""

from __future__ import annotations

import numpy as np

from app.mechanics.contact import lag_pull_out_n
from app.mechanics.layouts.faces import Contact, Faces, Touch, build_faces, contact_of, untouched
from app.mechanics.layouts.groups import Group
from app.mechanics.layouts.ladder import Column, build_ladder
from app.mechanics.layouts.lanes import Lanes, holds_of, kink_of, limit_of, shift_of
from app.mechanics.layouts.pairs import Pairs, build_sides, cut_line
from app.mechanics.layouts.recovery import SideMaps, peak_stress, screw_maxima, side_maps
from app.mechanics.layouts.tightened import Preload, Tightening, load, tighten
from app.mechanics.layouts.turned import bounded, layer, motions
from app.mechanics.members import BoolArray
from app.mechanics.model import Construct, Screw
from app.mechanics.sections import Array, bone_depth
from app.mechanics.solve import CLOSED_MM, SAME_TRAVEL, asked_axial, asked_moment, lines_by_gap

AXIAL, BENDING, TORQUE, LATERAL = (("axial",), ("bending",), ("torque",), ("lateral",))


class Bench:
    """A group with its sides eliminated in both planes: what all parts of it have in common."""

    def __init__(self, group: Group) -> None:
        construct = group.construct
        self.group, self.construct = group, construct
        self.ladder = build_ladder(group)
        self.faces: Faces = build_faces(construct, group.layout)
        ends = (construct.supports.proximal, construct.supports.distal)
        self.turns: tuple[Column, ...] = tuple(("turn", k) for k, end in enumerate(ends) if end == "held")
        moving = {s.near_fragment if s.near_fragment is not None else s.far_fragment for s in _eccentric(construct)}
        self.shifts: tuple[Column, ...] = tuple(("shift", f) for f in sorted(f for f in moving if f is not None))
        kinked = np.flatnonzero(self.ladder.shapes.any(axis=(1, 2))).tolist() if construct.prebend_mm else []
        self.bents: tuple[Column, ...] = tuple(("bent", k) for k in kinked)
        self.tightens = bool(self.shifts or self.bents or self.faces.lags)
        several = len(construct.fracture_lines) > 1
        self.turned = motions(construct) if self.tightens or several else ()
        load_in = (AXIAL, BENDING) if construct.load.bending_nmm else (AXIAL,)
        load_out = (TORQUE, LATERAL) if construct.load.lateral_nmm else (TORQUE,)
        columns = (
            (*load_in, *self.turns, *self.shifts, *self.bents, *self.faces.motions),
            (*load_out, *self.turns, *self.turned),
        )
        self._right: tuple[tuple[Array, Array], SideMaps] | None = None
        cut = cut_line(self.ladder)
        self.sides = (
            build_sides(self.ladder, 0, columns[0], cut),
            build_sides(self.ladder, 1, columns[1], cut),
        )

    def maps(
        self, right: bool, combine: tuple[Array, Array], part: slice, moved: tuple[Array, Array] | None
    ) -> SideMaps:
        """The maps of the right side, which are the same for most parts, or those of a part of the left one."""
        if not right:
            return side_maps(self.ladder, self.sides, right, combine, part, moved)
        if self._right is None or not all(map(np.array_equal, combine, self._right[0])):
            self._right = combine, side_maps(self.ladder, self.sides, right, combine, slice(None), moved)
        return self._right[1]


def _eccentric(construct: Construct) -> list[Screw]:
    return [screw for screw in construct.screws if screw.shift_mm != 0.0]


def solve_part(bench: Bench, part: slice, lanes: Lanes) -> tuple[dict[str, Array], BoolArray]:
    """Figures of the stable layouts among the layouts `part` of the left side with all of the right one.

    The second answer says which of them could not be settled; this and every figure have the shape (n,).
    """
    job = _Part(bench, part, lanes)
    return job.figures(), job.bad


class _Part:
    def __init__(self, bench: Bench, part: slice, lanes: Lanes) -> None:
        self.bench, self.lanes, self.part = bench, lanes, part
        self.construct, self.faces = bench.construct, bench.faces
        self.within, self.across = (Pairs(sides, part) for sides in bench.sides)
        self.count = len(lanes.at)
        self.bad = np.zeros(self.count, dtype=bool)
        self._contact: Contact | None = None

    def drive(self, column: Column) -> Array:
        """Motions of the faces per unit of a load column; shape (d, n)."""
        read = self.within.ball if column == BENDING else self.within.held
        return np.array([self.lanes.of(read(motion, column)) for motion in self.faces.motions])

    def contact(self) -> Contact:
        if self._contact is None:
            names = self.faces.motions
            compliance = np.empty((len(names), len(names), self.count))
            for a, one in enumerate(names):
                for b, other in enumerate(names[: a + 1]):
                    compliance[a, b] = compliance[b, a] = self.lanes.of(self.within.held(one, other))
            self._contact = contact_of(self.faces, compliance)
        return self._contact

    def tightening(self) -> Tightening:
        shape = (len(self.faces.motions), self.count)
        lanes, construct = self.lanes, self.construct
        self.shift = {column: shift_of(construct, lanes, int(column[1])) for column in self.bench.shifts}
        self.kink = {column: kink_of(construct, lanes, int(column[1])) for column in self.bench.bents}
        bent, shift, shifts = np.zeros(shape), np.zeros(shape), np.zeros(self.count, dtype=bool)
        for column, amount in self.kink.items():
            bent += self.drive(column) * amount
        for column, amount in self.shift.items():
            shift += self.drive(column) * amount
            shifts |= amount != 0.0
        return Tightening(bent, shift, shifts, limit_of(construct, lanes), holds_of(construct, lanes))

    def tightened(self) -> tuple[Tightening, Preload]:
        size, still = len(self.faces.stiffness), np.zeros((len(self.faces.motions), self.count))
        if self.bench.tightens:
            by = self.tightening()
            before = tighten(self.contact(), by)
            self.bad |= before.unresolved
            return by, before
        self.shift, self.kink, none = {}, {}, np.zeros(self.count)
        by = Tightening(still, still, none > 0.0, none, np.zeros((len(self.faces.spans), self.count)))
        return by, Preload(none, untouched(self.faces, self.count), still, np.zeros((size, self.count)), none > 0.0)

    def loaded(self, by: Tightening, before: Preload, moved: Array) -> Touch:
        if not self.bench.tightens and not self.faces.meet(moved):
            return untouched(self.faces, self.count)
        touch, ended_not = load(self.contact(), by, before, moved)
        self.bad[ended_not] = True
        return touch

    def figures(self) -> dict[str, Array]:
        construct, lanes, rows = self.construct, self.lanes, self.faces.rows
        axial, bending = construct.load.axial_n, construct.load.bending_nmm
        by, before = self.tightened()
        moved = self.drive(AXIAL) * axial
        if bending:
            moved = moved + self.drive(BENDING) * bending
        after = self.loaded(by, before, moved)
        change = rows.T @ (after.force - before.touch.force)
        change_of = moved + np.einsum("abn,bn->an", self.contact().compliance, change) if change.any() else moved
        sideways, pushed = self.turned(before, construct.load.torsion_nmm, construct.load.lateral_nmm)
        found = self.motion(before, change_of, sideways)
        found["axial_stiffness"] = self.axial_stiffness(by, before, after)
        found["torsional_stiffness"] = self.torsional_stiffness(before)
        return found | {name: lanes.of(values) for name, values in self.recovered(before, after, pushed).items()}

    def axial_stiffness(self, by: Tightening, before: Preload, after: Touch) -> Array:
        load_, asked = self.construct.load, asked_axial(self.construct.load)
        if load_.bending_nmm != 0.0 or load_.axial_n != asked:
            after = self.loaded(by, before, self.drive(AXIAL) * asked)
        shorter = asked * self.lanes.of(self.within.held(AXIAL, AXIAL))
        change = self.faces.rows.T @ (after.force - before.touch.force)
        for motion, force in zip(self.faces.motions, change, strict=True):
            if force.any():
                shorter = shorter + self.lanes.of(self.within.held(AXIAL, motion)) * force
        return np.asarray(asked / shorter)

    def turned(self, before: Preload, torsion: float, lateral: float) -> tuple[Array, Array]:
        """Motions of the faces out-of-plane under a load, and what the pressed faces push along each; both (d, n)."""
        names = self.bench.turned
        moved, pushed = np.zeros((len(names), self.count)), np.zeros((len(names), self.count))
        if not names:
            return moved, pushed
        moved += torsion * np.array([self.lanes.of(self.across.held(name, TORQUE)) for name in names])
        if lateral:
            moved += lateral * np.array([self.lanes.of(self.across.ball(name, LATERAL)) for name in names])
        if before.touch.pressing.any():
            compliance = np.array([[self.lanes.of(self.across.held(a, b)) for b in names] for a in names])
            springs = layer(self.construct, self.faces, before.touch, names)
            resists = contact_of(self.faces, compliance).resists
            pushed, ended_not = bounded(resists, moved, springs)
            self.bad[ended_not] = True
            moved = moved + np.einsum("abn,bn->an", compliance, pushed)
        return moved, pushed

    def torsional_stiffness(self, before: Preload) -> Array:
        torque = asked_moment(self.construct.load.torsion_nmm)
        turn = torque * self.lanes.of(self.across.held(TORQUE, TORQUE))
        if before.touch.pressing.any():
            _, pushed = self.turned(before, torque, 0.0)
            for name, force in zip(self.bench.turned, pushed, strict=True):
                turn = turn + self.lanes.of(self.across.held(TORQUE, name)) * force
        return np.asarray(torque / 1000.0 / np.degrees(turn))

    def motion(self, before: Preload, change: Array, sideways: Array) -> dict[str, Array]:
        """Motion and strain at the line that moves most."""
        names = ("near_motion", "far_motion", "near_strain", "far_strain")
        each, travel = [], []
        for k, line in enumerate(self.construct.fracture_lines):
            at = self.faces.motions.index(("face", k, 0))
            half = float(bone_depth(self.construct.bone, np.array([line.s_mm]))[0]) / 2.0
            values: dict[str, Array] = {}
            for name, sign, edge in (("near", -1.0, self.faces.spans[k][0]), ("far", 1.0, self.faces.spans[k][1] - 1)):
                moved = change[at] + sign * half * change[at + 2]
                gap = line.clearance_mm + before.motion[at] + sign * half * before.motion[at + 2]
                shut = before.touch.pressing[edge] | (gap < CLOSED_MM)
                values[f"{name}_motion"] = moved
                values[f"{name}_strain"] = np.where(shut, np.nan, 100.0 * moved / np.where(shut, 1.0, gap))
            each.append(values)
            travel.append(np.maximum(abs(values["near_motion"]), abs(values["far_motion"])))
            if len(self.construct.fracture_lines) > 1:
                travel[-1] = np.maximum(travel[-1], self._shear(k, change, sideways))
        if len(each) == 1:
            return each[0]
        order = lines_by_gap(self.construct)
        most = np.array(travel)[order]
        first = np.argmax(most >= most.max(axis=0) * (1.0 - SAME_TRAVEL), axis=0)
        return {name: np.choose(first, [each[k][name] for k in order]) for name in names}

    def _shear(self, k: int, change: Array, sideways: Array) -> Array:
        reach = self.construct.fracture_lines[k].zone_mm / 2.0
        at, out = self.faces.motions.index(("face", k, 0)), self.bench.turned.index(("face", k, 0))
        v, w = change[at + 1], sideways[out]
        if reach > 0.0:
            v = v - (change[at + 2] + 2.0 * change[at + 3]) * reach
            w = w + (sideways[out + 2] + 2.0 * sideways[out + 3]) * reach
        return np.asarray(np.hypot(v, w))

    def recovered(self, before: Preload, after: Touch, pushed: Array) -> dict[str, Array]:
        """Plate stress and screw forces."""
        load_, back = self.construct.load, self.lanes.back
        amounts: list[dict[Column, float | Array]] = [{AXIAL: load_.axial_n}, {TORQUE: load_.torsion_nmm}]
        if load_.bending_nmm:
            amounts[0][BENDING] = load_.bending_nmm
        if load_.lateral_nmm:
            amounts[1][LATERAL] = load_.lateral_nmm
        amounts[0] |= {c: back(before.share * v) for c, v in self.shift.items() if v.any()}
        amounts[0] |= {c: back(v) for c, v in self.kink.items() if v.any()}
        acting = self.faces.rows.T @ after.force
        amounts[0] |= {c: back(v) for c, v in zip(self.faces.motions, acting, strict=True) if v.any()}
        amounts[1] |= {c: back(v) for c, v in zip(self.bench.turned, pushed, strict=True) if v.any()}
        self._hold_ends(amounts)
        simple = all(isinstance(v, float | int) for each in amounts for v in each.values())
        one_partner = simple and self.within.size == 3 and not self.bench.turns
        idle = not any(amounts[1].values()) if simple else False
        z = [self._z(pairs, each, one_partner) for pairs, each in zip((self.within, self.across), amounts, strict=True)]
        tension = {lag.id: back(-row) for lag, row in zip(self.faces.lags, after.force[self.faces.lag], strict=True)}
        found = {name: np.zeros(self.lanes.shape) for name in ("peak_stress", "pull_out", "screw_bending")}
        for right in (False, True):
            turned = [np.ascontiguousarray(np.moveaxis(each[right], 2 if right else 1, 0)) for _, each in z]
            moved = None
            if one_partner:  # what acts and how far both sides move is known of every layout: z is one weight, of 1
                moved = turned[0][:, 1:], turned[1][:, 1:]
                turned = [each[:, :1] for each in turned]
            both = (turned[0], None if idle else turned[1])
            maps = self.bench.maps(right, (z[0][0], z[1][0]), self.part, moved)
            pulls = {name: values.T if right else values for name, values in tension.items()}
            most = screw_maxima(maps, both, pulls)
            for name, values in (
                ("peak_stress", peak_stress(maps, both)),
                ("pull_out", most.pull_out),
                ("screw_bending", most.bending),
            ):
                np.maximum(found[name], values.T if right else values, out=found[name])
        self._beside(found["pull_out"], tension)
        return found

    def _hold_ends(self, amounts: list[dict[Column, float | Array]]) -> None:
        """Add the moments at held ends to what acts; a bending load turns the ends freely in any case."""
        for pairs, acting in zip((self.within, self.across), amounts, strict=True):
            moments = [np.zeros(self.lanes.shape) for _ in self.bench.turns]
            for column, amount in acting.items():
                if column not in (BENDING, LATERAL) and self.bench.turns:
                    for moment, per_unit in zip(moments, pairs.end_moments(column), strict=True):
                        moment += per_unit * amount
            acting |= dict(zip(self.bench.turns, moments, strict=True))

    def _z(self, pairs: Pairs, acting: dict[Column, float | Array], one: bool) -> tuple[Array, tuple[Array, Array]]:
        """What its weights make of a plane's load columns, and what the maps of both sides are applied to.

        Each of the two has the shape (z, left, right); with `one` partner, as what a side bears doesn't hang on the
        other one, (z, left, 1) and (z, 1, right).
        """
        varying = [column for column, amount in acting.items() if isinstance(amount, np.ndarray)]
        combine = np.zeros((len(pairs.sides.columns), 1 + len(varying)))
        for column, amount in acting.items():
            place = 1 + varying.index(column) if column in varying else 0
            combine[pairs.number[column], place] = 1.0 if place else amount
        every, last = slice(None), slice(-1, None)
        parts = ((every, last), (last, every)) if one else ((every, every),)
        z = [np.concatenate([self._weights(acting, part), pairs.displaced(acting, part)]) for part in parts]
        return combine, (z[0], z[-1])

    def _weights(self, acting: dict[Column, float | Array], part: tuple[slice, slice]) -> Array:
        ones = np.ones(self.lanes.shape)[part]
        return np.array([ones, *(amount[part] for amount in acting.values() if isinstance(amount, np.ndarray))])

    def _beside(self, pull_out: Array, tension: dict[str, Array]) -> None:
        """Take in the lag screws beside the plate."""
        for lag in self.construct.lag_screws:
            if lag.id in tension:
                np.maximum(pull_out, tension[lag.id] / lag_pull_out_n(self.construct, lag), out=pull_out)
