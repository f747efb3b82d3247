"""The thickness-aware wrap against the reference cases, its closed forms, and the laws of a batch."""

import numpy as np
import pytest

from synth.core.errors import StowfrontError
from synth.families._wrap import best_rings, closed_form, ideal, pattern, wrap
from tests.near import near
from tests.physics.fold_cases import all_cases, case

SIZES = ("deployed_diameter", "deployed_area", "stowed_diameter", "stowed_height")
ZERO = sorted(name for name in all_cases() if name.startswith("wrap_zero_n"))
THICK = sorted(name for name in all_cases() if name.startswith("wrap_thick"))


def shape(name: str) -> tuple[int, int, int]:
    given = case(name).inputs
    return given["n"], given["N"], given["h"]


@pytest.mark.parametrize("name", ZERO)
def test_without_thickness_mesh_and_closed_forms_give_the_reference_sizes(name: str) -> None:
    expected, made = case(name).expected, wrap(*shape(name), np.zeros(1))
    closed = closed_form(*shape(name))
    for size in SIZES:
        assert near(made.sizes()[size][0], expected[size], rel=1e-9, why="reference tolerance")
        assert near(getattr(closed, size), expected[size], rel=1e-9, why="reference tolerance")
    assert made.pattern.layer.max() == closed.layers == expected["q_max"]
    assert closed.spine_layers == made.pattern.layer[made.pattern.column == made.pattern.level].max()
    assert len(made.pattern.faces) * made.pattern.sides + 1 == closed.faces == expected["faces"]
    assert made.strain()[0] < 1e-9 and made.warp()[0] < 1e-12
    assert made.face_areas().min() > 0.0


def test_coordinates_of_a_small_gore() -> None:
    given = case("wrap_zero_coords_n6_N2_h1")
    made = wrap(6, 2, 1, np.zeros(1))
    place = {(int(c), int(w)): v for v, (c, w) in enumerate(zip(made.pattern.column, made.pattern.level, strict=True))}
    for k, name in enumerate(given.inputs["names"]):
        column = int(name[1:].split("_")[0])
        v = place[column, column if name[0] == "S" else int(name.split("_")[1])]
        assert near(made.flat[0, v], [given.expected["flat_x"][k], given.expected["flat_y"][k]], abs=1e-10)
        stowed = [given.expected[f"stowed_{axis}"][k] for axis in "xyz"]
        assert near(made.stowed[0, v], stowed, abs=1e-10)
        assert made.pattern.layer[v] == given.expected["layers_q"][k]


@pytest.mark.parametrize("name", THICK)
def test_with_thickness_flat_and_stowed_lengths_are_the_same(name: str) -> None:
    given = case(name)
    t = given.inputs["t"]
    made = wrap(*shape(name), np.array([t]))
    sizes, expected = {k: float(v[0]) for k, v in made.sizes().items()}, given.expected
    assert made.strain()[0] < 1e-9 and made.residual[0] < 1e-12
    kept = ideal(made.pattern, np.array([t])).strain()[0]
    assert near(kept, expected["strain_if_zero_thickness_pattern_kept"], abs=1e-6, why="reference tolerance")
    for size in SIZES:
        assert near(sizes[size], expected[size], abs=1e-6, why="reference tolerance; rim freedom spent alike")
    assert near(made.drift[0] / t, expected["row_drift_over_t"], abs=1e-5, why="tolerance 1e-6 of R over t")
    assert near(made.warp()[0] / t, expected["quad_warp_over_t"], abs=1e-5, why="tolerance 1e-6 of R over t")
    assert made.face_areas().min() > 0.0
    n = given.inputs["n"]
    hub = n / 2.0 * np.sin(2.0 * np.pi / n)
    ring = hub * ((sizes["stowed_diameter"] / 2.0) ** 2 - 1.0) * sizes["stowed_height"]
    packed = (sizes["deployed_area"] - hub) * t / ring
    assert near(packed, expected["ring_packing_efficiency"], abs=1e-6, why="reference tolerance")
    assert near(closed_form(*shape(name), t).stowed_diameter, sizes["stowed_diameter"], rel=1e-12)
    assert made.pattern.layer.max() == expected["q_max"]


def test_nested_walls_are_one_pitch_apart() -> None:
    made = wrap(8, 5, 2, np.array([0.004]))
    radius = np.linalg.norm(made.stowed[0, :, :2], axis=-1)
    assert near(radius, 1.0 + made.pattern.layer * 0.004 / np.cos(np.pi / 8), rel=1e-12)
    assert sorted(made.pattern.layer) == list(range(made.pattern.vertices))


def test_lengths_are_checked_by_plain_loops_over_the_whole_sheet() -> None:
    made = wrap(6, 4, 1, np.array([0.005]))
    flat, stowed = (x[0] for x in made.around())
    seen, worst = 0, 0.0
    for gore in range(6):
        for face in made.pattern.faces:
            ring = [((gore + g) % 6, v) for g, v in face]
            for p, q in zip(ring, ring[1:] + ring[:1], strict=True):
                lengths = [np.linalg.norm(x[p] - x[q]) for x in (flat, stowed)]
                worst, seen = max(worst, abs(lengths[0] - lengths[1])), seen + 1
    assert seen == 6 * sum(len(f) for f in made.pattern.faces) and worst < 1e-12
    assert near(flat[:, 0], [[np.cos(k * np.pi / 3), np.sin(k * np.pi / 3)] for k in range(6)], abs=1e-12)


def test_best_number_of_rings() -> None:
    given = case("wrap_optimum_n6")
    for k, rows in enumerate(given.inputs["h"]):
        rings = best_rings(6, rows, given.inputs["R_dep"], given.inputs["t"])
        assert near(rings, given.expected["N_star"][k], rel=1e-9)
        hub = given.inputs["R_dep"] / (2.0 * rings * np.tan(np.pi / 6))
        assert near(hub, given.expected["R_hub"][k], rel=1e-9)
        # at the optimum the winding, N^2 / h layers, is half as thick as the hub's radius
        winding = rings**2 / rows * given.inputs["t"] / np.cos(np.pi / 6)
        assert near(winding / hub, 0.5, rel=1e-9)


def test_large_sheet_of_the_scan() -> None:
    given = case("wrap_25m_10mm_scan")
    for k, (rows, rings) in enumerate(zip(given.inputs["h"], given.inputs["N"], strict=True)):
        hub = given.inputs["deployed_diameter"] / closed_form(6, rings, rows).deployed_diameter
        assert near(hub, given.expected["R_hub"][k], rel=1e-9)
        closed = closed_form(6, rings, rows, given.inputs["t"] / hub)
        assert near(hub * closed.stowed_diameter, given.expected["stowed_diameter"][k], rel=1e-9)
        assert near(hub * closed.stowed_height, given.expected["stowed_height"][k], rel=1e-9)
        assert closed.layers == given.expected["q_max"][k]


def test_published_ratios_lie_between_two_counts_of_rows() -> None:
    """25 m from 2.7 m (case pack_flasher_25m, seen) and a model (memory): parameters unknown, so plausibility only."""
    given = case("wrap_25m_10mm_scan")
    ratio = given.inputs["deployed_diameter"] / np.array(given.expected["stowed_diameter"])
    few, many = (ratio[given.inputs["h"].index(rows)] for rows in (5, 6))
    for name in ("pack_flasher_25m", "pack_flasher_model_memory"):
        published = case(name)
        assert near(published.inputs["deployed"] / published.inputs["stowed"], published.expected["ratio"], rel=1e-9)
        assert few < published.expected["ratio"] < many


def test_a_sail_round_a_hub() -> None:
    """276 m round 4 m, 24 sides, no rows (case pack_solar_sail_hub): between the whole numbers of steps next to N."""
    given = case("pack_solar_sail_hub")
    steps, radius = given.expected["N_steps"], given.inputs["hub"] / 2.0
    below, above = (closed_form(given.inputs["n"], rings, 0) for rings in (int(steps), int(steps) + 1))
    share = steps - int(steps)
    height = radius * ((1.0 - share) * below.stowed_height + share * above.stowed_height)
    assert near(height, given.expected["height_no_limit"], rel=1e-9, why="linear in the steps")
    # D^2 grows with N^2 where the tip of a spine is farthest out
    tip = [np.sqrt(1.0 + 4.0 * n**2 * np.tan(np.pi / given.inputs["n"]) ** 2) for n in (steps, int(steps))]
    assert near(tip[0], given.expected["ratio"], rel=1e-9, why="N is told to twelve digits")
    assert below.deployed_diameter / 2.0 >= tip[1] and below.deployed_diameter < 2.0 * tip[0] < above.deployed_diameter
    assert near(steps / given.inputs["n"], given.expected["turns"], rel=1e-9)


@pytest.mark.parametrize("what", [(6, 3, 1), (5, 4, 2), (8, 3, 0)])
def test_all_at_once_is_one_at_a_time_in_any_order(what: tuple[int, int, int]) -> None:
    pitch = np.array([0.0, 0.001, 0.004, 0.008])
    together, shuffled = wrap(*what, pitch), wrap(*what, pitch[[2, 0, 3, 1]])
    assert (together.strain() < 1e-9).all()
    for row, t in enumerate(pitch):
        alone = wrap(*what, np.array([t]))
        assert (alone.flat[0] == together.flat[row]).all() and (alone.stowed[0] == together.stowed[row]).all()
    assert (shuffled.flat == together.flat[[2, 0, 3, 1]]).all()


def test_pitches_far_too_large_are_finite_and_told() -> None:
    made = wrap(6, 4, 1, np.array([0.005, 1.0]))
    assert np.isfinite(made.flat).all() and np.isfinite(made.residual).all()
    assert made.residual[0] < 1e-12 < 1e-6 < made.residual[1]


def test_what_is_no_wrap_is_refused() -> None:
    for what in ((2, 1, 1), (3, 0, 1), (3, 1, -1)):
        with pytest.raises(StowfrontError, match="a wrap needs 3 sides"):
            pattern(*what)
