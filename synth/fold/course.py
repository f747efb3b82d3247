"""The motion of one candidate as the clearance proof reads it: poses, twists and bounds at any station."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Floats, Ints, transform, unit
from synth.core.topology import Topology
from synth.fold.path import schedule
from synth.fold.separation import Passing
from synth.fold.stage import Parts, parts_of, twists
from synth.fold.tree import poses


@dataclass(frozen=True, eq=False)
class Station:
    """S stations: placed [S, P, 3, 4]; turn, shift [S, P, 3]: twists; point, way [S, H, 3]: hinge lines."""

    placed: Floats
    turn: Floats
    shift: Floats
    point: Floats
    way: Floats


@dataclass(frozen=True, eq=False)
class Course:
    """One candidate under way: hinge angles linear in s between knots.

    bounds [K + 1]: s of the knots, 0 to 1; angles [K + 1, H] there; axis [H, 2, 3], rates [K, H]
    of the tree hinges. An interval between knots is called a stage here. parts: one for each.
    hops, entry, parallel, base, slope [K, P, P]: as of stage.Tables.
    """

    topology: Topology
    bounds: Floats
    angles: Floats
    axis: Floats
    rates: Floats
    parts: tuple[Parts, ...]
    hops: Ints
    entry: Ints
    parallel: Bools
    base: Floats
    slope: Floats

    @property
    def stages(self) -> int:
        return len(self.bounds) - 1

    @property
    def hinged(self) -> bool:
        """Whether every joint turns about a line fixed to both of its panels."""
        return True

    @staticmethod
    def of(topology: Topology, axis: Floats, stowed: Floats) -> "Course":
        """By the schedule of the topology: axis [H, 2, 3], stowed [H] of one candidate."""
        stages = schedule(topology)
        return Course.along(topology, axis, stages.bounds, stages.angles_at(stowed[None], stages.bounds)[0])

    @staticmethod
    def along(topology: Topology, axis: Floats, s: Floats, angles: Floats) -> "Course":
        """Through given knots: s [K + 1] rising from 0 to 1, angles [K + 1, H]; loop-closing hinges are not read.

        For structures with loops: panels then go exactly where the tree hinges take them.
        """
        tree = topology.panels - 1
        axis, angles = axis[:tree], angles[:, :tree]
        rates = np.diff(angles, axis=0) / np.diff(s)[:, None]
        start = poses(topology, axis[None], angles[None, :-1])[0]
        lines = np.broadcast_to(axis, (len(rates), *axis.shape))
        parts, tables = parts_of(topology, lines, rates, start)
        return Course(topology, s, angles, axis, rates, parts, **vars(tables))

    def placed(self, s: Floats) -> Floats:
        """Poses [S, P, 3, 4] at s [S]."""
        k = np.clip(np.searchsorted(self.bounds, s, side="right") - 1, 0, self.stages - 1)
        share = ((s - self.bounds[k]) / (self.bounds[k + 1] - self.bounds[k]))[:, None]
        # told from both ends, so that knots are met exactly
        angles = self.angles[k] * (1.0 - share) + self.angles[k + 1] * share
        return np.asarray(poses(self.topology, self.axis[None], angles[None])[0])

    def at(self, s: Floats, stage: Ints) -> Station:
        """Stations s [S], each inside its stage [S]."""
        placed = self.placed(s)
        turn, shift = twists(self.topology, self.axis, self.rates[stage], placed)
        lines = transform(placed[:, self.topology.parent[1:]], np.broadcast_to(self.axis, (len(s), *self.axis.shape)))
        if not len(self.axis):
            # a lone panel has no line; one that nothing turns about keeps the tables in shape
            lines = np.zeros((len(s), 1, 2, 3))
        return Station(placed, turn, shift, lines.mean(axis=-2), unit(lines[..., 1, :] - lines[..., 0, :]))

    def motion(self, at: Station, k: Ints, first: Ints, second: Ints, stage: Ints, half: Floats) -> Passing:
        """Relative motion of panels second [m] against panels first [m] at stations number k [m]."""
        mine, theirs = at.placed[k, first], at.placed[k, second]
        back, base = mine[:, :, :3], mine[:, :, 3]
        omega = at.turn[k, second] - at.turn[k, first]
        drift = at.shift[k, second] - at.shift[k, first] + np.cross(omega, base)
        entry = self.entry[stage, first, second]

        def inward(v: Floats) -> Floats:
            return np.ascontiguousarray(np.einsum("mji,mj->im", back, v))

        return Passing(
            turn=np.ascontiguousarray(np.einsum("mji,mjk->ikm", back, theirs[:, :, :3])),
            shift=inward(theirs[:, :, 3] - base),
            spin=inward(omega),
            drift=inward(drift),
            half=half,
            point=inward(at.point[k, entry] - base),
            way=inward(at.way[k, entry]),
            parallel=self.parallel[stage, first, second],
            base=self.base[stage, first, second],
            slope=self.slope[stage, first, second],
        )
