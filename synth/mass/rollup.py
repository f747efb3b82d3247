"""Masses of panels and their roll-up: everything adds, so a total is a sum."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Column, Floats
from synth.core.design import Design
from synth.core.polygon import area

HARNESS = "harness"
"""What the names of point masses say that are wiring."""


@dataclass(frozen=True, eq=False)
class Masses:
    """Masses of B candidates by what they are, kg [B]; basic is their sum, predicted has its growth on every part."""

    panels: Column
    hinges: Column
    latches: Column
    mount: Column
    fittings: Column
    lumps: Column
    harness: Column
    basic: Column
    predicted: Column


def perimeter(outline: Floats) -> Floats:
    """Length of the outline [...] of polygons [..., V, 2]; repeated corners add nothing."""
    edges: Floats = np.linalg.norm(np.roll(outline, -1, axis=-2) - outline, axis=-1)
    return np.asarray(edges.sum(axis=-1))


def panel_masses(outline: Floats, areal_mass: Column, close_out: Column) -> Floats:
    """Masses [B, P], kg: areal mass (kg/m^2) x area + close-out (kg/m) x perimeter, outlines [B, P, V, 2].

    Case mass.sandwich_areal of the reference notes (derived) for the areal part.
    """
    return areal_mass[:, None] * np.maximum(area(outline), 0.0) + close_out[:, None] * perimeter(outline)


@dataclass(frozen=True, eq=False)
class Shares:
    """Growth of each class of part over its basic mass: panels [B], mechanisms and other structure, wiring."""

    panels: Column
    mechanisms: float
    wiring: float


def roll_up(design: Design, growth: Shares) -> Masses:
    """Masses of a batch laid out in full; predicted = sum of m (1 + growth) (case mass.mga_rollup, seen).

    Point masses named as harness are wiring; fittings, joints, mount and the other point masses are mechanisms. Growth
    covers maturity; a system margin is not in it and must not be added twice.
    """
    joints = design.joint_masses
    panels, hinges, latches = design.panels.mass.sum(axis=1), joints.hinge.sum(axis=1), joints.latch.sum(axis=1)
    wires = np.array([HARNESS in name for name in design.lumps_name], dtype=bool)
    fittings, lumps = design.fittings.mass.sum(axis=1), design.lumps_mass[:, ~wires].sum(axis=1)
    harness = design.lumps_mass[:, wires].sum(axis=1)
    mechanisms = hinges + latches + joints.mount + fittings + lumps
    basic = panels + mechanisms + harness
    predicted = (
        panels * (1.0 + growth.panels) + mechanisms * (1.0 + growth.mechanisms) + harness * (1.0 + growth.wiring)
    )
    return Masses(panels, hinges, latches, joints.mount, fittings, lumps, harness, basic, predicted)
