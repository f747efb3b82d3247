"""Answers that can be written down by hand, asked of the real pipeline: variables to hardware to stowed size.

t panel thickness, g face gap, p = t + g pitch, e edge gap, D clear diameter.
"""

import numpy as np
import pytest

from synth.app.running import goals_of
from synth.cell import Cell, cell_from, space
from synth.core.arrays import Floats
from synth.core.design import Design
from synth.evaluate import lay_out, stowed_points
from synth.fold.leaves import HINGE_SEAM
from synth.fold.tree import poses
from synth.fronts.indicators import hypervolume_share
from synth.problem import Problem
from synth.problem.catalogue import joints
from synth.search.evaluator import ProblemEvaluator, work
from synth.search.outcome import Outcome
from synth.search.pool import InProcess
from synth.search.run import search
from synth.search.settings import Settings
from synth.search.state import begin
from synth.stow.sizes import stowed_size
from tests.near import near
from tests.samples import problem

D, T, E, G = 2.4, 6e-3, 9e-3, 0.5e-3
BUILD = {"build.thickness": T, "build.edge_gap": E, "build.hinge": "pin_bearing"}
HALL = [{"name": "hall", "size": ["5 m", "4 m", "3 m"]}]
KNUCKLE = joints()["pin_bearing"].knuckle


def hand(family: str, asked: Problem | None = None, **values: float | int | str) -> tuple[Problem, Cell, Design]:
    """One candidate laid out from variables given by name."""
    asked = asked or problem(aperture={"clear_diameter": D}, envelope=HALL)
    cell, row = cell_from(asked, family, {**BUILD, **values})
    design = lay_out(asked, cell, space(asked, cell).columns(row))[0]
    assert design.status.ok[0], design.status.reason[0]
    return asked, cell, design


def size(asked: Problem, design: Design) -> Floats:
    """Stowed sides in the first envelope, a box, rising."""
    return np.sort(stowed_size(stowed_points(design)[0], asked.envelope[0]).size)


def stowed_panels(design: Design) -> Floats:
    """Corners [P, 2 V, 3] of the stowed panels in the root frame: back face, then front face."""
    g = design.geometry
    placed = poses(design.topology, g.axis, g.stowed_angle[:, None])[0, 0]
    corners = g.corners[0]
    return np.stack([c @ m[:, :3].T + m[:, 3] for c, m in zip(corners, placed, strict=True)])


@pytest.mark.parametrize("root", ["end", "middle"])
@pytest.mark.parametrize("n", [3, 4, 7, 12])
def test_an_accordion_of_n_strips_is_n_t_and_n_less_one_g_high(n: int, root: str) -> None:
    """Plan: one strip, (cover D + e) / n - e across and reach D along, with the leaves of its hinges, e / 2 less a
    seam a side. A rectangle of 0.75 D by 0.6 D lies within the circle, so that no strip is cut."""
    asked, _, design = hand("accordion", strips=n, root=root, cover=0.75, reach=0.6)
    assert T - 0.25e-3 >= KNUCKLE, "else the knuckles ask for more than the face gap"
    height, across, along = n * T + (n - 1) * G, (0.75 * D + E) / n, 0.6 * D
    near(size(asked, design), sorted([height, across - 2 * HINGE_SEAM, along]), rel=1e-9, why="closed form")
    bodies = stowed_panels(design)
    near(np.ptp(bodies[..., 2]), height, rel=1e-9, why="panels alone")
    near(np.ptp(bodies[..., 0]), across - E, rel=1e-9, why="panels alone")


@pytest.mark.parametrize("gap", [0.5e-3, 2e-3, 5e-3])
@pytest.mark.parametrize("t", [1.5e-3, 3e-3, 12e-3])
def test_thin_strips_leave_the_room_that_their_knuckles_need(t: float, gap: float) -> None:
    """A knuckle of half height k stands in the middle of the gap: k <= t + g / 2 behind its own leaf, and half a
    millimetre from the next hinge on the same edge, k + 0.5 mm <= t + 3 g / 2."""
    asked = problem(structure={"panel_gap": gap})
    asked, _, design = hand("accordion", asked, strips=5, **{"build.thickness": t})
    g = max(gap, 2.0 * (KNUCKLE - t), (KNUCKLE + 0.5e-3 - t) / 1.5)
    bodies = stowed_panels(design)
    near(np.ptp(bodies[..., 2]), 5 * t + 4 * g, rel=1e-9)
    z = np.sort(bodies[..., 2].min(axis=1))
    near(np.diff(z), np.full(4, t + g), rel=1e-9, why="every layer one pitch above the last")
    # the hinge hardware sticks out by nothing
    near(np.ptp(stowed_points(design)[0, :, 2]), 5 * t + 4 * g, rel=1e-9)


@pytest.mark.parametrize(("rings", "count"), [(1, 7), (2, 19)])
def test_a_chain_of_hexagons_needs_no_standoff_and_lies_on_one_footprint(rings: int, count: int) -> None:
    _, _, design = hand(
        "segment_stack", rings=rings, tiling="hexagon", tree="spiral", tips="blunt", blunt=0.1, cover=1.2,
        **{"build.edge_gap": 20e-3},
    )  # fmt: skip
    t = design.topology
    assert t.panels == count and (t.steps == 1).all()
    # every axis half a face gap above or behind a face: z -> 2 h - z with h = -+ p / 2 from the mid-plane
    z = design.geometry.axis[0, :, :, 2]
    near(np.abs(z + T / 2.0), np.full(z.shape, (T + G) / 2.0), rel=1e-9)
    # so that no leaf reaches farther than its knuckle beyond the axis
    highest = max(design.fittings.z_front[0].max(), -T - design.fittings.z_back[0].min())
    near(highest, G / 2.0 + KNUCKLE, rel=1e-9)
    bodies = stowed_panels(design)
    near(np.ptp(bodies[..., 2]), count * T + (count - 1) * G, rel=1e-9)
    # one footprint: every stowed corner lies in the root's outline, which no cut made smaller
    outline = design.geometry.outline[0, 0]
    edge = np.roll(outline, -1, axis=0) - outline
    length = np.linalg.norm(edge, axis=1)
    edge, start = edge[length > 1e-9], outline[length > 1e-9]
    arm = bodies[..., None, :2] - start
    outside = (arm[..., 0] * edge[:, 1] - arm[..., 1] * edge[:, 0]) / np.linalg.norm(edge, axis=1)
    assert outside.max() < 1e-9
    spare = np.ptp(bodies[..., :2].reshape(-1, 2), axis=0) - np.ptp(outline, axis=0)
    assert np.abs(spare).max() < 1e-9


def test_a_star_of_seven_needs_the_standoffs_of_the_half_turn_rule() -> None:
    """Three tiles on either face. A half turn about height h takes the mid-plane at 0 to 2 h, and three layers are
    one, two and three pitches of 6.5 mm away: h = 3.25, 6.5, 9.75 mm, so the axes stand 0.25, 3.5 and 6.75 mm
    proud of a panel 6 mm thick (derived: z -> 2 h - z)."""
    _, _, design = hand(
        "segment_stack", rings=1, tiling="hexagon", tree="star", tips="sharp", cover=1.0,
        **{"build.edge_gap": 25e-3},
    )  # fmt: skip
    t = design.topology
    assert t.panels == 7 and (t.parent[1:] == 0).all()
    assert sorted(t.steps[t.sense > 0]) == [1, 2, 3] and sorted(t.steps[t.sense < 0]) == [1, 2, 3]
    z = design.geometry.axis[0, :, 0, 2]
    proud = np.where(t.sense > 0, z, -T - z)
    near(proud[np.argsort(t.steps, kind="stable")], np.repeat([0.25e-3, 3.5e-3, 6.75e-3], 2), rel=1e-9)
    # the layers that the axes lead to
    bodies = stowed_panels(design)
    middle = bodies[..., 2].mean(axis=1) + T / 2.0
    near(np.sort(middle), 6.5e-3 * np.arange(-3, 4), abs=1e-12)
    for h in range(6):
        near(middle[h + 1], 2.0 * (z[h] + T / 2.0), rel=1e-9, why="z -> 2 h - z from the mid-plane at 0")
    near(np.ptp(bodies[..., 2]), 7 * 6e-3 + 6 * 0.5e-3, rel=1e-9)
    # real fittings stand as high: each hinge's tallest leaf ends above its axis, by the knuckle at most
    f = design.fittings
    for h in range(6):
        mine = f.hinge == h
        top = f.z_front[0, mine].max() if t.sense[h] > 0 else -T - f.z_back[0, mine].min()
        assert proud[h] <= top <= proud[h] + KNUCKLE + 1e-12
        if t.steps[h] == 1:
            near(top, proud[h] + KNUCKLE, rel=1e-9, why="neighbouring layers: a plain knuckle")
    # and weigh: three hinges of two pairs of leaves, 2700 kg/m3
    tall = [float(f.mass[0, f.hinge == h].sum()) for h in np.argsort(t.steps, kind="stable")]
    assert max(tall[:2]) < min(tall[2:4]) < max(tall[2:4]) < min(tall[4:])


def run(asked: Problem, evaluations: int, seed: int) -> Outcome:
    """A small real search, verification and all."""
    evaluator = ProblemEvaluator(asked, {})
    few = {"front": 12, "verifications": 14, "archive": 80}
    settings = Settings.for_budget(evaluations, seed, len(asked.envelope), **few)
    with InProcess(work, asked) as pool:
        return search(begin(evaluator, goals_of(asked), settings), evaluator, pool)


def test_a_larger_envelope_never_has_the_worse_front() -> None:
    """Whatever fits a room fits one that it lies in: at a small budget already, every design of the smaller room's
    front is met in the larger one's by one that is no worse in anything."""
    asked = problem(
        aperture={"clear_diameter": "400 mm", "min_collecting_area": "0.08 m^2"},
        envelope=[
            {"name": "small", "size": ["160 mm", "70 mm", "300 mm"]},
            {"name": "middle", "size": ["210 mm", "110 mm", "370 mm"]},
            {"name": "large", "size": ["420 mm", "300 mm", "390 mm"]},
        ],
        mass={"limit": "12 kg"},
        choices={"families": ["accordion", "map_fold", "wing"], "max_panels": 9},
    )
    goals, found = goals_of(asked), run(asked, 100, 1)
    fronts = [np.stack([m.objectives for m in front if m.feasible]) for front in found.fronts]
    for smaller, larger in ((0, 1), (1, 2), (0, 2)):
        for point in fronts[smaller]:
            assert (fronts[larger] <= point).all(axis=1).any()
        box = goals.ideal[larger], goals.reference[larger]
        assert hypervolume_share(fronts[larger], *box) >= hypervolume_share(fronts[smaller], *box)
    # not for want of difference: the larger room takes designs that the smallest does not
    shares = [hypervolume_share(f, goals.ideal[2], goals.reference[2]) for f in fronts]
    assert shares[0] < shares[2]
