"""Metrics: one function each. Its name is its public name, its docstring its description everywhere.

A metric reads an Evaluation and returns [B], or [B, E] where it depends on the envelope.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Column, Floats
from synth.core.shapes import distinct
from synth.evaluate import Evaluation


@dataclass(frozen=True)
class Metric:
    """name: public name with its unit; better: "lower", "higher" or "" where neither; by_envelope: shape [B, E]."""

    name: str
    unit: str
    better: str
    by_envelope: bool
    doc: str
    compute: Callable[[Evaluation], Floats]


METRICS: dict[str, Metric] = {}


Compute = Callable[[Evaluation], Floats]


def metric(unit: str, better: str = "", by_envelope: bool = False) -> Callable[[Compute], Compute]:
    """Registers a function as a metric under its own name, in order of definition."""

    def keep(function: Compute) -> Compute:
        doc = (function.__doc__ or "").strip()
        METRICS[function.__name__] = Metric(function.__name__, unit, better, by_envelope, doc, function)
        return function

    return keep


@metric("m^3", "lower", by_envelope=True)
def stowed_volume_m3(e: Evaluation) -> Floats:
    """Product of the stowed sides; for a round envelope the volume of the enclosing cylinder."""
    # sides in order of size: one design has the same volume to the last bit in every envelope
    box = np.sort(e.stowed_size, axis=-1).prod(axis=-1)
    return np.asarray(np.where(e.round_envelope, np.pi / 4.0 * box, box))


@metric("m", "lower", by_envelope=True)
def longest_stowed_side_m(e: Evaluation) -> Floats:
    """Longest of the three stowed sides."""
    return np.asarray(e.stowed_size.max(axis=-1))


@metric("1", "lower", by_envelope=True)
def fit_ratio(e: Evaluation) -> Floats:
    """Greatest ratio of a stowed side to the side that the envelope allows."""
    return e.fit


@metric("kg", "lower")
def mass_kg(e: Evaluation) -> Column:
    """Basic mass with growth: one allowance, or a share by class of part where the problem states a maturity."""
    return e.mass


@metric("kg", "lower")
def basic_mass_kg(e: Evaluation) -> Column:
    """Panels, hinges, latches, mount, fittings, drives, harness and restraints, no growth."""
    return e.basic_mass


@metric("m^2", "higher")
def collecting_area_m2(e: Evaluation) -> Column:
    """Receiving faces within the clear-aperture circle, gaps and what fittings cover taken off."""
    return e.collecting_area


@metric("m", "lower")
def surface_rms_m(e: Evaluation) -> Column:
    """Expected rms of z over the receiving faces about the stated datum: joints, figure, steady field."""
    return e.deployed.surface_rms


@metric("m", "lower")
def in_plane_rms_m(e: Evaluation) -> Column:
    """Expected rms in-plane shift of the receiving faces after the best-fit shift and spin."""
    return e.deployed.in_plane_rms


@metric("rad", "lower")
def blur_rad(e: Evaluation) -> Column:
    """Full angle of the blur that surface slopes add at the detector, rms; see the optics page."""
    return e.blur


@metric("Hz", "higher")
def first_mode_hz(e: Evaluation) -> Column:
    """Lowest natural frequency of the deployed panel-and-joint network on its mount."""
    return e.deployed.first_mode_hz


@metric("Hz", "higher")
def stowed_first_mode_hz(e: Evaluation) -> Column:
    """Lowest natural frequency of the stowed panels held at their restraints."""
    return e.launch.first_mode_hz


@metric("1", "lower")
def launch_stress_ratio(e: Evaluation) -> Column:
    """Peak panel stress under the quasi-static launch load over the allowable, factor of safety included."""
    return e.launch.stress_ratio


@metric("m", "lower")
def launch_deflection_m(e: Evaluation) -> Column:
    """Greatest deflection of a stowed panel between its hold-downs under the quasi-static launch load."""
    return e.launch.deflection


@metric("1", "lower")
def launch_contact_ratio(e: Evaluation) -> Column:
    """Share of the stowed panel gap that this deflection closes where the next panel stays still: they touch at 1."""
    return e.launch.deflection / np.maximum(e.panel_gap, 1e-6)


@metric("N", "lower")
def restraint_preload_n(e: Evaluation) -> Column:
    """Least force at each hold-down that keeps the stowed stack seated under the quasi-static launch load."""
    return e.launch.preload


@metric("1", "lower")
def hinge_stress_ratio(e: Evaluation) -> Column:
    """Greatest stress of what flexes in a hinge, stowed, over the allowable, factor of safety included."""
    flexing = e.design.flexing
    return np.zeros(e.rows) if flexing is None else np.asarray(flexing.max(axis=1, initial=0.0))


@metric("1", "higher")
def torque_ratio(e: Evaluation) -> Column:
    """Least torque available over factored torque needed, both standards, every hinge and angle, cold and hot."""
    return e.drive.ratio


@metric("J", "lower")
def latch_energy_j(e: Evaluation) -> Column:
    """Most stored energy that a hinge (of a loop: all of them) can bring to its stop without damper or friction."""
    return e.drive.energy


@metric("1", "higher", by_envelope=True)
def packing_efficiency(e: Evaluation) -> Floats:
    """Sum of panel volumes over the stowed volume."""
    return e.panel_volume[:, None] / stowed_volume_m3(e)


@metric("1", "lower")
def part_count(e: Evaluation) -> Column:
    """Panels, hinges and latches."""
    t = e.design.topology
    latches = (e.design.joint_masses.latch > 0.0).sum(axis=1)
    return np.asarray(t.panels + len(t.hinges) + latches, dtype=np.float64)


@metric("1")
def panel_count(e: Evaluation) -> Column:
    """Panels."""
    return np.full(e.rows, float(e.design.topology.panels))


@metric("1", "lower")
def distinct_parts(e: Evaluation) -> Column:
    """Panel outlines that differ; a mirror image is another part, for a panel has a front and a hand."""
    return distinct(e.design.geometry.cut)


@metric("m", "higher")
def least_panel_width_m(e: Evaluation) -> Column:
    """Least short side of a panel's smallest enclosing rectangle."""
    return np.asarray(e.panel_sides[..., 0].min(axis=1))


@metric("m", "lower")
def longest_panel_m(e: Evaluation) -> Column:
    """Greatest long side of a panel's smallest enclosing rectangle."""
    return np.asarray(e.panel_sides[..., 1].max(axis=1))


@metric("m", "higher")
def panel_gap_m(e: Evaluation) -> Column:
    """Least stowed distance between the faces of layers that lie on each other."""
    return e.panel_gap


@metric("m", "higher")
def edge_gap_m(e: Evaluation) -> Column:
    """Least deployed distance between outlines of panels."""
    return e.design.edge_gap


def table(e: Evaluation) -> dict[str, Floats]:
    """All metrics by name."""
    return {name: np.asarray(m.compute(e), dtype=np.float64) for name, m in METRICS.items()}
