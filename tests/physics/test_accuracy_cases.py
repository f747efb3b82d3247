"""Reference cases of thermal bow, gravity sag, optics and error statistics, against the program's own functions."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import Column, Floats
from synth.core.design import Design
from synth.core.joints import SPACECRAFT
from synth.core.polygon import area
from synth.families import families
from synth.optics.report import strehl
from synth.optics.sensitivity import at_ray, sensitivity
from synth.problem import catalogue
from synth.structure.accuracy import gauges
from synth.structure.assembly import GROWTH, assemble
from synth.structure.elimination import Elimination
from synth.structure.framed import Shape, composite
from synth.structure.loads import Loads
from synth.structure.monomials import MonomialPlates
from synth.structure.network import covariance, deployed
from synth.structure.orthogonal import OrthogonalPlates
from synth.structure.section import Materials, bow, section
from tests.near import near
from tests.physics.structure_cases import case
from tests.physics.test_chain import LENGTH, SIGMA, chain
from tests.physics.test_surface_fields import free_panel, ring
from tests.structure.make import ALONG_X, design, grid, rectangle, unit


def bow_rms(outline: Floats, kappa: float = 1e-3) -> float:
    """rms about the best-fit plane for a curvature of one."""
    made = free_panel(outline)
    made = replace(made, panels=replace(made.panels, bow=np.full(1, kappa)))
    return float(np.sqrt(deployed(made, Loads()).bow_m2[0])) / kappa


def test_bow_factors() -> None:
    disc, square, hexagon, peak = case("thermal.bow_rms_factors").expected
    near(bow_rms(rectangle(0.1, 0.0, 0.5, 0.4)) / 0.4**2, square, rel=1e-6)
    near(bow_rms(ring(6, 0.3)) / 0.3**2, hexagon, rel=1e-6)
    found = bow_rms(ring(180, 0.3)) / 0.3**2
    near(found, disc, rel=1e-3, why="180 corners for a disc")
    near(0.5 / found, peak, rel=1e-3, why="180 corners for a disc")
    near(bow_rms(rectangle(0.0, 0.0, 1.0, 0.5)), case("thermal.bow_rect_factor").expected, rel=1e-6)


def solid(cte: float, conductivity: float, thickness: float) -> tuple[Materials, Column]:
    base = catalogue.materials()["al_6061_t6"]
    made = Materials.of([replace(base, cte=cte, conductivity=conductivity)], np.array([0]))
    return made, np.full(1, thickness)


@pytest.mark.parametrize("name", ["thermal.bow_al", "thermal.bow_zerodur"])
def test_bow_of_a_warmed_panel(name: str) -> None:
    given = case(name)
    a, t, dt, side = (given.inputs[k] for k in ("alpha_per_k", "t_m", "dT_k", "s_m"))
    material, thickness = solid(a, 167.0, t)
    made = section(material, thickness, np.zeros(1, dtype=bool), np.full(1, 0.1), catalogue_core())
    kappa = -float(bow(made, dt)[0])
    sag, corner = kappa * side**2 / 8.0, kappa * side**2 / 4.0
    assert given.holds(kappa, sag, corner, kappa * bow_rms_exact(side))
    near(kappa * bow_rms(rectangle(0.0, 0.0, side, side)), given.expected[3], rel=1e-6)


def bow_rms_exact(side: float) -> float:
    """1 / (6 sqrt 10) s^2, which test_bow_factors finds in the network."""
    return side**2 / (6.0 * np.sqrt(10.0))


def catalogue_core():  # type: ignore[no-untyped-def]
    return next(iter(catalogue.cores().values()))


@pytest.mark.parametrize("thickness", [0.004, 0.012])
def test_bow_under_a_heat_flux_whatever_the_thickness(thickness: float) -> None:
    given = case("thermal.flux_bow")
    q, side = given.inputs["q_w_m2"], given.inputs["s_m"]
    found = []
    for cte, k in zip(given.inputs["alpha_per_k"], given.inputs["k_w_m_k"], strict=True):
        material, t = solid(cte, k, thickness)
        made = section(material, t, np.zeros(1, dtype=bool), np.full(1, 0.1), catalogue_core())
        found.append(-float(bow(made, 0.0, q)[0]) * bow_rms_exact(side))
    assert given.holds(*found)


def test_bimetals() -> None:
    """Sheet and bars of width one are the two layers; Poisson's ratio left out, as in the strip formula."""
    given = case("thermal.bimetal")
    base, other = catalogue.materials()["fused_silica"], catalogue.materials()["cfrp_qi_m55j"]
    full = Shape(np.ones(1), rectangle(0, 0, 1, 1)[None, None], np.ones((1, 1)), np.ones(1))

    def curved(front: tuple[float, float, float], back: tuple[float, float, float], dt: float) -> float:
        sheet = Materials.of([replace(base, youngs_modulus=front[0], cte=front[1], poisson_ratio=0.0)], np.array([0]))
        bars = replace(other, youngs_modulus=back[0], cte=back[1], poisson_ratio=0.0)
        plate = composite(sheet, bars, np.full(1, front[2] + back[2]), np.full(1, front[2]), full)
        return -float(plate.warm_bulk[0]) * dt

    assert given.holds(
        curved((70e9, 23e-6, 1e-3), (70e9, 0.0, 1e-3), 1.0),
        curved((70e9, 23.6e-6, 1e-4), (90.3e9, 0.02e-6, 5e-3), 10.0),
    )


def test_gravity_sag() -> None:
    """The polynomial plate held along its rim by stiff springs: simply supported square, clamped circle."""
    given = case("gravity.sag")
    e, nu, t, q = 68.9e9, 0.33, 0.01, 2700.0 * 0.01 * given.inputs["g_m_s2"]
    d = np.array([[e * t**3 / 12 / (1 - nu**2)]])
    found = []
    turn = 2 * np.pi * np.arange(180) / 180
    circle = 0.15 * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    for outline, clamped in ((rectangle(-0.15, -0.15, 0.15, 0.15), False), (circle, True)):
        plates = OrthogonalPlates(outline[None, None], 14)
        share = np.linspace(0.0, 1.0, 60, endpoint=False)[:, None] if not clamped else np.zeros((1, 1))
        rim = np.concatenate([a + share * (b - a) for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True)])
        value, slope = plates.at_feet(np.zeros(len(rim), dtype=np.int64), rim[None], np.zeros((1, len(rim))))
        stiff = plates.bending(d, np.full(1, nu))[0, 0] + 1e9 * value[0].T @ value[0]
        if clamped:
            stiff += 1e6 * sum(slope[0, :, k].T @ slope[0, :, k] for k in range(2))
        load = q * plates.forms.area[0, 0] * plates.forms.first[0, 0]
        middle, _ = plates.at_feet(np.zeros(1, dtype=np.int64), np.zeros((1, 1, 2)), np.zeros((1, 1)))
        found.append(float(middle[0, 0] @ np.linalg.solve(stiff, load)))
    near(found[0], given.expected[0], rel=2e-3, why="springs along the rim")
    near(found[1], given.expected[1], rel=4e-3, why="springs along the rim of 180 corners")


def test_optical_sensitivities() -> None:
    given = case("optics.axial_sensitivity")
    for ratio, wanted in zip(given.inputs["f_number"], given.expected, strict=True):
        rim = np.array([1.0 / (2.0 * ratio)])
        thin, mirror = at_ray("transmissive", rim), at_ray("reflective", rim)
        near([thin[0][0], mirror[0][0], mirror[0][0] / thin[0][0], thin[1][0]], wanted, rel=1e-8)
    tilt = case("optics.tilt_sensitivity")
    rays = np.array([tilt.inputs["tan_theta"]])
    assert tilt.holds(at_ray("reflective", rays)[2][0], at_ray("transmissive", rays)[2][0])
    assert sensitivity("reflective", 2.0, 1.0).slope == 2.0


def test_spot_shift_of_a_tilted_panel() -> None:
    """The ray turns by slope x sensitivity and travels f / cos theta to the focus."""
    given = case("optics.blur")
    phi, f = given.inputs["phi_rad"], given.inputs["f_m"]
    rays = np.array([0.25])
    away = f / np.cos(np.arctan(0.25))
    assert given.holds(at_ray("reflective", 0 * rays)[2][0] * phi * f, at_ray("transmissive", rays)[2][0] * phi * away)


def test_ruze() -> None:
    given = case("optics.ruze")
    assert given.holds(*(strehl(2.0 * eps, 1.0) for eps in given.inputs["eps_over_lambda"]))


def test_fill_factors() -> None:
    given = case("optics.fill")
    made = grid(4, 4, side=0.25, gap=0.002)
    corners = made.geometry.outline[0].reshape(-1, 2)
    squares = float(area(made.geometry.outline[0]).sum() / np.ptp(corners, axis=0).prod())
    pitch = np.sqrt(3.0) * 0.25 + 0.003
    hexagons = float(area(ring(6, 0.25)) / (np.sqrt(3.0) / 2.0 * pitch**2))
    stack = families()["segment_stack"]
    fixed = {"corners": "all", "tiling": "hexagon", "tips": "sharp", "tree": "star"}
    assert given.holds(squares, hexagons, *(stack.panel_count({**fixed, "rings": n}) for n in (1, 2, 3)))


def unfitted(made: Design) -> float:
    """Expected mean square (m^2) of the misfits about no datum."""
    network = assemble(made, MonomialPlates(made.geometry.outline, 3), Loads())
    factors = Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))
    made_gauges = gauges(network.forms, made.topology.receiving, made.panels.thickness, 0)
    return float(made_gauges.surface.random(covariance(network, factors), np.zeros((1, 0, 0)))[0])


@pytest.mark.parametrize("count", range(1, 7))
def test_chain_statistics(count: int) -> None:
    """Tip and slope variance of the last panel, mean square about nothing and about the best-fit plane."""
    given, made = case(f"error.chain_n{count}"), chain(count)
    plates = MonomialPlates(made.geometry.outline, 3)
    network = assemble(made, plates, Loads())
    factors = Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))
    spread = covariance(network, factors)[0, count - 1, :-3, :-3]
    tip, _ = plates.at_feet(np.array([count - 1]), np.array([[[count * LENGTH, 0.0]]]), np.zeros((1, 1)))
    along = network.forms.slope[0, count - 1, 0]
    unit_of = (SIGMA * LENGTH) ** 2
    found = [
        float(tip[0, 0] @ spread @ tip[0, 0]) / unit_of,
        float(along @ spread @ along) / SIGMA**2,
        unfitted(made) / unit_of,
        float(deployed(made, Loads()).joints_m2[0]) / unit_of,
    ]
    near(found, given.expected, rel=2e-4, abs=1e-5, why="springs and panels not infinitely stiff")


def test_flatness_of_a_metre_folded() -> None:
    given = case("error.flatness_budget")
    width = given.inputs["W_m"]
    found = [
        np.sqrt(deployed(chain(n), Loads()).joints_m2[0]) / (SIGMA * LENGTH) * given.inputs["sigma_rad"] * width / n
        for n in given.inputs["n"]
    ]
    near(found, given.expected, rel=2e-4, why="springs and panels not infinitely stiff")


def tilted(outline: Floats, sigma: float) -> Design:
    """One stiff panel on a mount at its centre that errs by a turn about x."""
    middle = np.append(outline.mean(axis=0), -0.005)
    mount = unit(middle, ALONG_X, 0, SPACECRAFT, 0, 2, 0.0)
    return design([outline], [-1], [mount], modulus=1e14, sigma=(0.0, 0.0, 0.0, 0.0, sigma, 0.0))


def test_tilted_segments() -> None:
    given = case("optics.segment_tilt_rms")
    shapes = (rectangle(0.0, 0.0, 0.25, 0.25), ring(6, 0.25), ring(180, 0.25))
    found = [np.sqrt(unfitted(tilted(s, 1e-5))) / (1e-5 * 0.25) for s in shapes]
    near(found, given.expected, rel=1e-3, why="180 corners for a disc")
    backbone = case("error.parallel_tilt")
    alone = np.sqrt(unfitted(tilted(shapes[0], backbone.inputs["sigma_rad"])))
    near(alone, backbone.expected, rel=1e-6)


def springs(rows: Floats, stiffness: list[float], sigma: float, offset: list[float]) -> tuple[Floats, Floats, Floats]:
    """Heights and standard deviations of the nodes, and e = B u - d, of a spring network of small stiff panels."""
    nodes, held = rows.shape[1], [1e5, 1e5, 0.0, 1e5, 1e5, 1e5]
    outlines = [rectangle(0.2 * n, 0.0, 0.2 * n + 0.1, 0.1) for n in range(nodes)]
    units, signs = [], []
    for row in rows:
        (up,) = np.flatnonzero(row > 0.0) if (row > 0.0).any() else (SPACECRAFT,)
        (down,) = np.flatnonzero(row < 0.0) if (row < 0.0).any() else (SPACECRAFT,)
        i, j = (up, down) if down == SPACECRAFT else (down, up)
        # a unit counts the second side less the first: a node less the ground is told the other way round
        signs.append(-1.0 if down == SPACECRAFT else 1.0)
        made = unit(np.array([0.05, 0.05, -0.005]), ALONG_X, int(i), int(j), 0, 2, 0.0)
        made["feet"] = np.array([[0.05 + 0.2 * max(p, 0), 0.05] for p in (i, j)])
        units.append(made)
    units += [unit(np.array([0.05 + 0.2 * n, 0.05, -0.005]), ALONG_X, n, SPACECRAFT, 0, 2, 0.0) for n in range(nodes)]
    made_design = design(outlines, list(range(-1, nodes - 1)), units, modulus=1e12)
    k, s, d = (np.zeros((1, len(units), 6)) for _ in range(3))
    k[0, : len(rows), 2], k[0, len(rows) :] = stiffness, held
    s[0, : len(rows), 2], d[0, : len(rows), 2] = sigma, np.array(signs) * offset
    made_design = replace(made_design, units=replace(made_design.units, stiffness=k, sigma=s, free_offset=d))
    network = assemble(made_design, MonomialPlates(made_design.geometry.outline, 3), Loads())
    factors = Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))
    motion, first = factors.solve(network.steady)[..., GROWTH], network.forms.first
    height = np.einsum("pn,pn->p", first[0], motion[0, :, :-3])
    spread = covariance(network, factors)[0, :, :-3, :-3]
    deviation = np.sqrt(np.einsum("pi,pij,pj->p", first[0], spread, first[0]))
    return height, deviation, network.strain(motion[..., None])[0, : len(rows), 2, 0] - d[0, : len(rows), 2]


def test_spring_network() -> None:
    given = case("error.network")
    k, d = given.inputs["k_n_m"], given.inputs["d_m"]
    height, deviation, left = springs(np.array(given.inputs["B"], dtype=np.float64), k, 1e-6, d)
    near(height, given.expected[0], rel=1e-3, why="stiff holds")
    near(0.5 * (np.array(k) * left**2).sum(), given.expected[1][0], rel=1e-3, why="stiff holds")
    near(deviation, given.expected[2], rel=1e-3, why="stiff holds")


def test_bridge() -> None:
    given = case("error.bridge")
    n = given.inputs["n"]
    rows = np.zeros((n, n - 1))
    rows[np.arange(n - 1), np.arange(n - 1)] = 1.0
    rows[np.arange(1, n), np.arange(n - 1)] = -1.0
    _, deviation, _ = springs(rows, [100.0] * n, 1e-6, [0.0] * n)
    near((deviation * 1e6) ** 2, given.expected, rel=2e-3, why="stiff holds")
