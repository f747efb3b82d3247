"""Poses of hinge trees against an independent engine, closed forms and the three laws."""

import mujoco
import numpy as np
import pytest

from synth.core.arrays import transform
from synth.core.topology import Topology
from synth.fold.tree import hinge_parting, poses
from tests.fold import chains
from tests.near import near


def random_tree(rng: np.random.Generator, panels: int) -> tuple[Topology, np.ndarray]:
    parent = np.array([-1] + [int(rng.integers(0, p)) for p in range(1, panels)])
    zero = np.zeros(panels - 1, dtype=np.int64)
    topology = Topology(parent, zero + 1, zero, zero, zero, np.zeros(panels, int), np.zeros(panels, int))
    return topology, rng.uniform(-1.0, 1.0, (panels - 1, 2, 3))


def mujoco_poses(topology: Topology, axis: np.ndarray, angles: np.ndarray) -> np.ndarray:
    """Poses [P, 3, 4] by MuJoCo: one body a panel, all frames on the deployed frame, one hinge joint each."""
    children: list[list[int]] = [[] for _ in topology.parent]
    for panel in range(1, topology.panels):
        children[int(topology.parent[panel])].append(panel)

    def body(panel: int) -> str:
        joint = ""
        if panel:
            a, b = axis[panel - 1]
            at, way = (" ".join(repr(float(x)) for x in v) for v in (a, b - a))
            joint = f'<joint name="j{panel}" type="hinge" pos="{at}" axis="{way}"/>'
        inside = "".join(body(c) for c in children[panel])
        shape = '<geom type="sphere" size="0.01" contype="0" conaffinity="0"/>'
        return f'<body name="p{panel}">{joint}{shape}{inside}</body>'

    model = mujoco.MjModel.from_xml_string(f"<mujoco><worldbody>{body(0)}</worldbody></mujoco>")
    data = mujoco.MjData(model)
    for panel in range(1, topology.panels):
        data.qpos[model.joint(f"j{panel}").qposadr[0]] = angles[panel - 1]
    mujoco.mj_kinematics(model, data)
    out = []
    for panel in range(topology.panels):
        found = data.body(f"p{panel}")
        out.append(np.concatenate([found.xmat.reshape(3, 3), found.xpos[:, None]], axis=1))
    return np.array(out)


@pytest.mark.parametrize("panels", [2, 7, 20])
def test_poses_agree_with_an_independent_engine(panels: int) -> None:
    rng = np.random.default_rng(panels)
    topology, axis = random_tree(rng, panels)
    angles = rng.uniform(-np.pi, np.pi, (1, 3, panels - 1))
    ours = poses(topology, axis[None], angles)[0]
    for station in range(3):
        theirs = mujoco_poses(topology, axis, angles[0, station])
        near(ours[station], theirs, abs=1e-9, why="two engines in double precision")


def test_hinges_stay_attached_to_rounding() -> None:
    rng = np.random.default_rng(5)
    topology, axis = random_tree(rng, 40)
    angles = rng.uniform(-np.pi, np.pi, (2, 5, 39))
    placed = poses(topology, np.stack([axis, axis + 0.1]), angles)
    assert hinge_parting(topology, np.stack([axis, axis + 0.1]), placed).max() < 1e-12
    placed[:, :, 17, 0, 3] += 1e-9
    assert hinge_parting(topology, np.stack([axis, axis + 0.1]), placed).max() > 0.9e-9


def test_deployed_is_the_identity_and_a_turn_is_rigid() -> None:
    topology, axis = random_tree(np.random.default_rng(3), 9)
    placed = poses(topology, axis[None], np.stack([np.zeros((1, 8)), np.full((1, 8), 1.3)], axis=1))
    near(placed[0, 0], np.broadcast_to(np.eye(3, 4), (9, 3, 4)), abs=1e-15, why="no turn at all")
    square = placed[..., :3] @ np.swapaxes(placed[..., :3], -1, -2)
    near(square, np.broadcast_to(np.eye(3), square.shape), abs=1e-13, why="rotations")


def test_a_valley_fold_lifts_the_outer_panel_to_the_front() -> None:
    laid = chains.accordion(2)
    placed = poses(laid.topology, laid.geometry.axis, np.full((1, 1, 1), 0.5))
    outer = transform(placed[0, 0, 1], laid.geometry.corners[0, 1])
    assert laid.topology.sense[0] == 1
    assert outer[:, 2].max() > 0.05


def test_all_at_once_equals_one_at_a_time_and_rows_may_be_shuffled() -> None:
    rng = np.random.default_rng(11)
    topology, _ = random_tree(rng, 12)
    axis, angles = rng.uniform(-1, 1, (6, 11, 2, 3)), rng.uniform(-3, 3, (6, 4, 11))
    whole = poses(topology, axis, angles)
    assert np.array_equal(whole, np.concatenate([poses(topology, axis[[b]], angles[[b]]) for b in range(6)]))
    order = rng.permutation(6)
    assert np.array_equal(whole[order], poses(topology, axis[order], angles[order]))
    assert np.isfinite(whole).all()
