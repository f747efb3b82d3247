"""From variables to figures, in straight lines: the only place where the disciplines meet.

    variables -> family -> topology, geometry -> hardware -> masses -> stowed size -> structure

screen() goes as far as the stowed size (closed forms, two states); evaluate() adds the
deployed network and the launch model for those whom the screen leaves standing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from synth.cell import FLEXURES, SECTIONS, Cell, kinds, latch_of, notched_panels
from synth.core.arrays import Bools, Column, Floats, Ints, norm, pair, pick, quarter_turn, transform
from synth.core.build import Build
from synth.core.design import Design
from synth.core.errors import InputError
from synth.core.family import Family
from synth.core.geometry import Geometry
from synth.core.joints import Units
from synth.core.panels import Panels
from synth.core.polygon import ahead, area, circle_overlap, width_along
from synth.core.status import Status
from synth.core.topology import Topology
from synth.fold.edge_mount import edge_mounted
from synth.fold.hardware import LEAST_GAP, Hardware, lay_hardware, stack_pitch
from synth.fold.held import LOOSE, all_held
from synth.fold.notches import notched
from synth.fold.steady import with_steady
from synth.fold.tree import poses
from synth.hinges.kind import JointKind, JointNumbers, numbers_of
from synth.mass.lumps import lumps
from synth.mass.rollup import Shares, panel_masses, roll_up
from synth.optics.blur import blur
from synth.problem.growth import growth_of
from synth.problem.problem import Problem
from synth.stow.sizes import stowed_sizes
from synth.structure.drive import Drive, drive
from synth.structure.framed import FRAME_PADS, Warmth, framed, sheet_held
from synth.structure.loads import Loads
from synth.structure.network import Deployed, deployed
from synth.structure.posts import on_posts
from synth.structure.section import (
    Materials,
    Section,
    bow,
    bulk_strain,
    effective_stiffness,
    figure_rms,
    makeable,
    section,
)
from synth.structure.stowed import WORST, Launch, launch

Columns = Mapping[str, Floats | Ints]
SCREEN_FIT = 1.15
"""A candidate this much too large for every envelope is not worked out further."""
SCREEN_MASS = 1.3
"""Nor one this much too heavy."""
SCREEN_LIGHT = 0.9
"""Nor one that collects less than this share of the light asked for."""


@dataclass(frozen=True, eq=False)
class Evaluation:
    """What is known of B candidates in E envelopes.

    stowed_size [B, E, 3], fit [B, E], round_envelope [E]. panel_sides [B, P, 2]: short and long side of each
    panel's smallest enclosing rectangle. mass [B]: with growth; panel_growth [B]: the share of it that
    panels grow by. screened_out [B]: the structure was not worked out.
    """

    design: Design
    stowed_size: Floats
    fit: Floats
    round_envelope: Bools
    collecting_area: Column
    basic_mass: Column
    mass: Column
    panel_growth: Column
    panel_volume: Column
    panel_sides: Floats
    panel_gap: Column
    deployed: Deployed
    launch: Launch
    drive: Drive
    blur: Column
    screened_out: Bools
    status: Status

    @property
    def rows(self) -> int:
        return self.design.rows


def family_of(cell: Cell, columns: Columns) -> Family:
    """The family's own batch of a cell."""
    kind = kinds(cell)
    own = {k: np.asarray(columns[f"{cell.family}.{k}"], dtype=np.float64) for k in kind.reals()}
    return kind.of(dict(cell.fixed), own)


@dataclass(frozen=True, eq=False)
class Bare:
    """What of a batch no environment changes. hardware: its units stand on their posts, its status holds all that was
    asked so far. able: whether the section can be made. stowed: poses where the family gives some."""

    topology: Topology
    geometry: Geometry
    hardware: Hardware
    build: Build
    latch: JointKind | None
    made: Section
    able: Status
    stowed: Floats | None


def lay_out(problem: Problem, cell: Cell, columns: Columns) -> tuple[Design, Section, Build]:
    """Panels, joints and fittings of a batch of one cell."""
    return in_environment(problem, columns, lay_bare(problem, cell, columns))


def lay_bare(problem: Problem, cell: Cell, columns: Columns) -> Bare:
    """The part of lay_out that asks for no environment."""
    hinge = _hinges(problem, columns)
    family = family_of(cell, columns)
    build = _build(problem, columns, hinge, _notched(cell, family))
    topology, geometry = family.topology(), family.geometry(build)
    choice = dict(cell.build)
    latch = latch_of(problem, cell)
    parts = (latch, problem.mount_kind, problem.film)
    hardware = lay_hardware(topology, geometry, build, hinge, int(choice["pairs"]), *parts)
    made, able = _section(problem, columns, build.thickness)
    cut, goes = notched(geometry, hardware.units, build.unit_width, build.edge_gap)
    geometry = replace(geometry, cut=cut, notches=None)
    units = on_posts(hardware.units, hardware.fittings, build.thickness)
    if problem.transmissive:
        pad = np.asarray(hinge.pad_radius)
        units = edge_mounted(units, geometry.outline[:, 0], problem.mount_kind, 0.5 * FRAME_PADS * pad, pad)
    hardware = replace(hardware, units=units, status=geometry.status.also(hardware.status).also(goes))
    return Bare(topology, geometry, hardware, build, latch, made, able, family.poses(build, np.zeros(1)))


def in_environment(problem: Problem, columns: Columns, bare: Bare) -> tuple[Design, Section, Build]:
    """The design with its growth, bow and creep in the environment of a problem that asks for the same otherwise."""
    topology, geometry, hardware, build = bare.topology, bare.geometry, bare.hardware, bare.build
    made, able, cut, environment = bare.made, bare.able, bare.geometry.cut, problem.environment
    areas = area(cut)
    growth = _joint_growth(problem, columns, bare.latch, environment.bulk_change)
    common = problem.accuracy.common_cause
    units = with_steady(hardware.units, geometry.stowed_angle, growth, environment.hinge_creep, common)
    panels = Panels(
        mass=panel_masses(cut, made.areal_mass, made.close_out),
        stiffness=effective_stiffness(made, areas),
        poisson=made.poisson,
        bow=bow(made, environment.through_thickness_difference, environment.heat_flux),
        bulk_strain=bulk_strain(made, environment.bulk_change, environment.moisture_strain),
        figure=figure_rms(made, areas),
        thickness=build.thickness,
    )
    if "framed" in problem.sections:
        panels, made, fits = _framed(problem, columns, geometry, hardware.units, panels, made)
        able = able.also(fits)
    status = hardware.status.also(able)
    if geometry.slack.any():
        latched = topology.latchable if bare.latch is not None else topology.latchable[:0]
        status = status.require(np.where(all_held(topology, geometry.slack, latched), 0.0, -1.0), LOOSE)
    where, mass, names = lumps(topology, build.rows)
    design = Design(
        topology=topology,
        geometry=geometry,
        panels=panels,
        units=units,
        fittings=hardware.fittings,
        joint_masses=hardware.masses,
        lumps_panel=where,
        lumps_mass=mass,
        lumps_name=names,
        status=status,
        edge_gap=build.edge_gap,
        stowed=None if bare.stowed is None else bare.stowed[:, 0],
        turns=hardware.turns,
        flexing=hardware.flexing,
    )
    return design, made, build


def _framed(
    problem: Problem, columns: Columns, geometry: Geometry, units: Units, panels: Panels, made: Section
) -> tuple[Panels, Section, Status]:
    """Framed panels where the section says so; the widest pad of a candidate's joints sets the width of its frames."""
    chosen = np.array([n == "framed" for n in problem.sections])[np.asarray(columns["build.section"], dtype=np.int64)]
    e = problem.environment
    warmth = Warmth(e.bulk_change, e.through_thickness_difference, e.heat_flux, e.moisture_strain)
    width = FRAME_PADS * units.pad_radius[:, units.kind < 2].max(axis=1)
    face = np.asarray(columns["build.face_share"], dtype=np.float64)
    sheet, cut = _sheet(problem, columns), geometry.cut
    panels, made, fits = framed(chosen, sheet, problem.frame, cut, width, warmth, panels, made, face)
    gone = (area(geometry.outline) - area(cut)).max(axis=1, initial=0.0) > 1e-9
    return panels, made, fits.require(np.where(chosen & gone, -1.0, 0.0), "the bars of a frame are not notched")


def _sheet(problem: Problem, columns: Columns) -> Materials:
    return Materials.of(problem.materials, np.asarray(columns["build.material"], dtype=np.int64))


def held(problem: Problem, columns: Columns, rows: Ints, design: Design, made: Section, worst: int = WORST) -> Launch:
    """The launch model of some rows, with the sheets of framed panels between their bars; worst: see launch."""
    load = problem.structure.launch_load_g or 0.0
    part = columns_of(made, rows)
    found = launch(design, part, load, worst)
    if design.panels.window is None:
        return found
    clear = np.asarray((area(design.windows) < area(design.geometry.cut) - 1e-9).any(axis=1))
    hertz, ratio = sheet_held(design.panels, part, columns_of(_sheet(problem, columns), rows), load)
    return replace(
        found,
        first_mode_hz=np.where(clear, np.minimum(found.first_mode_hz, hertz), found.first_mode_hz),
        stress_ratio=np.where(clear, np.maximum(found.stress_ratio, ratio), found.stress_ratio),
    )


def _hinges(problem: Problem, columns: Columns) -> JointNumbers:
    """Numbers of each candidate's hinge units, what flexes in them sized."""
    index = np.asarray(columns["build.hinge"], dtype=np.int64)
    as_drawn = np.ones(len(index))
    sizes = [np.asarray(columns.get(f"build.{name}", as_drawn), dtype=np.float64) for name in FLEXURES]
    return numbers_of(problem.hinge_kinds, index, *sizes)


def _notched(cell: Cell, family: Family) -> bool:
    """Whether panels are notched. Raises InputError where the family does not admit it."""
    if notched_panels(cell) and not family.admits_notches(dict(cell.fixed)):
        raise InputError(f"build.passing: {cell.family} has no notched panels here; allowed: gap")
    return notched_panels(cell)


def _build(problem: Problem, columns: Columns, hinge: JointNumbers, with_notches: bool) -> Build:
    thickness = np.asarray(columns["build.thickness"], dtype=np.float64)
    gap = max(problem.structure.panel_gap, LEAST_GAP)
    return Build(
        diameter=problem.aperture.clear_diameter,
        panel_gap=gap,
        thickness=thickness,
        edge_gap=np.asarray(columns["build.edge_gap"], dtype=np.float64),
        pitch=stack_pitch(thickness, np.asarray(hinge.knuckle), gap),
        knuckle=np.asarray(hinge.knuckle),
        unit_width=np.asarray(hinge.width),
        notched=with_notches,
    )


def _joint_growth(
    problem: Problem, columns: Columns, latch: JointKind | None, bulk_change: float
) -> tuple[Column, float]:
    """Free strain of the metal of each candidate's hinges [B], and of the latches."""
    cte = np.array([k.cte for k in problem.hinge_kinds])[np.asarray(columns["build.hinge"], dtype=np.int64)]
    return cte * bulk_change, 0.0 if latch is None else latch.cte * bulk_change


def _section(problem: Problem, columns: Columns, thickness: Column) -> tuple[Section, Status]:
    """Panel sections from the material and section choices of each candidate, and whether a shop can build them."""
    material = Materials.of(problem.materials, np.asarray(columns["build.material"], dtype=np.int64))
    # the options of a cell's section coordinate are those of the problem, in the order of SECTIONS
    options = np.array([SECTIONS.index(name) for name in problem.sections])
    sandwich = options[np.asarray(columns["build.section"], dtype=np.int64)] == SECTIONS.index("sandwich")
    made = section(material, thickness, sandwich, np.asarray(columns["build.face_share"]), problem.core)
    return made, makeable(made, material)


def composite_panels(problem: Problem, columns: Columns, made: Section) -> Bools:
    """Whether panels [B] are laid up or bonded: a composite material, or a sandwich of any faces."""
    laid_up = np.array([m.kind == "composite" for m in problem.materials])
    return np.asarray(laid_up[np.asarray(columns["build.material"], dtype=np.int64)] | made.sandwich)


def shares(problem: Problem, columns: Columns, made: Section) -> Shares:
    """Growth by class of part: what the problem's maturity or its one allowance adds."""
    rates = growth_of(problem)
    panels = np.where(composite_panels(problem, columns, made), rates.composites, rates.structures)
    return Shares(panels, rates.structures, rates.wiring)


def panel_sides(outline: Floats) -> Floats:
    """Short and long side [B, P, 2] of the smallest (least area) rectangle round each convex outline [B, P, V, 2]."""
    step = ahead(outline) - outline
    length = norm(step)
    real = length > 1e-9
    u = step / np.where(real, length, 1.0)[..., None]
    a, b = width_along(u, outline), width_along(quarter_turn(u), outline)
    best = np.where(real, a * b, np.inf).argmin(axis=-1)
    a, b = pick(a, best), pick(b, best)
    return pair(np.minimum(a, b), np.maximum(a, b))


def stowed_points(design: Design) -> Floats:
    """Corners [B, N, 3] of all solids in the root frame when stowed."""
    placed = design.stowed
    if placed is None:
        placed = poses(design.topology, design.geometry.axis, design.geometry.stowed_angle[:, None, :])[:, 0]
    panels = transform(placed, design.geometry.corners)
    hardware = transform(placed[:, design.fittings.panel], design.fittings.corners)
    rows = design.rows
    return np.concatenate([panels.reshape(rows, -1, 3), hardware.reshape(rows, -1, 3)], axis=1)


def collecting_area(design: Design, diameter: float) -> Column:
    """Windows of receiving faces inside the clear circle [B]; leaves lie in the gaps, so they cover none of it."""
    faces = circle_overlap(design.windows[:, design.topology.receiving], diameter / 2.0)
    return np.asarray(faces.sum(axis=1))


def evaluate(
    problem: Problem, cell: Cell, columns: Columns, laid: tuple[Design, Section, Build] | None = None
) -> Evaluation:
    """The search's figures of a batch of one cell; a bad candidate carries a status, never NaN. laid: as lay_out gives
    it, where it is known."""
    with np.errstate(all="ignore"):
        design, made, build = laid or lay_out(problem, cell, columns)
        size, fit = stowed_sizes(stowed_points(design), problem.envelope)
        light = collecting_area(design, problem.aperture.clear_diameter)
        growth = shares(problem, columns, made)
        masses = roll_up(design, growth)
        standing = _standing(problem, design, fit, masses.predicted, light)
        rows, count = np.flatnonzero(standing), design.rows
        part = design.take(rows)
        network = deployed(part, loads_of(problem))
        stack = held(problem, columns, rows, part, made)
        return Evaluation(
            design=design,
            stowed_size=size,
            fit=fit,
            round_envelope=np.array([e.kind == "round" for e in problem.envelope]),
            collecting_area=light,
            basic_mass=masses.basic,
            mass=masses.predicted,
            panel_growth=growth.panels,
            panel_volume=(area(design.geometry.cut) * build.thickness[:, None]).sum(axis=1),
            panel_sides=panel_sides(design.geometry.outline),
            panel_gap=np.round(build.pitch - build.thickness, 12),  # what was asked, not a rounding error below it
            deployed=spread(network, rows, count),
            launch=spread(stack, rows, count),
            drive=spread(drive(part), rows, count),
            blur=_at(blur(problem, network), rows, count),
            screened_out=~standing,
            status=design.status.also(network.status.at(rows, count)),
        )


def _standing(problem: Problem, design: Design, fit: Floats, mass: Column, light: Column) -> Bools:
    """Who is worth working out further [B]: not hopelessly too large, too heavy or too small an aperture."""
    standing = design.status.ok & (fit.min(axis=1) <= SCREEN_FIT) & (mass <= SCREEN_MASS * problem.mass.limit)
    wanted = problem.aperture.min_collecting_area
    return np.asarray(standing if wanted is None else standing & (light >= SCREEN_LIGHT * wanted))


def _at(column: Column, rows: Ints, count: int) -> Column:
    """A column put at `rows` of `count`, zeros elsewhere."""
    out = np.zeros(count)
    out[rows] = column
    return out


def loads_of(problem: Problem) -> Loads:
    """The given environment as loads on the deployed network."""
    return Loads(gravity_release=1.0 - problem.environment.gravity_offload, refocus=problem.accuracy.refocus)


def columns_of(thing: Any, rows: Ints) -> Any:
    """Rows of a dataclass whose fields are all columns [B, ...]."""
    return type(thing)(**{f.name: getattr(thing, f.name)[rows] for f in fields(thing)})


def spread(thing: Any, rows: Ints, count: int) -> Any:
    """The same dataclass of columns with its rows put at `rows` of `count`, zeros elsewhere."""
    out: dict[str, Any] = {}
    for f in fields(thing):
        value = getattr(thing, f.name)
        if isinstance(value, Status):
            out[f.name] = value.at(rows, count)
            continue
        full = np.zeros((count, *value.shape[1:]), dtype=value.dtype)
        full[rows] = value
        out[f.name] = full
    return type(thing)(**out)
