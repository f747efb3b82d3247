"""The loop solver against MuJoCo, an independent rigid-body engine: hinge angles of the same closed linkages.

Each structure becomes a tree of bodies with hinge joints; every closing hinge becomes two point connections at the
ends of its line, the driving hinge a joint equality. The engine settles, without gravity, to where all of its own
constraints hold.
"""

import numpy as np
import pytest

from synth.fold.loops import follow
from synth.fold.thickness import bennett_steps, miura_levels
from synth.fold.vertex import flat_foldable_folds
from tests.fold.structures import Structure, miura_corners, miura_folds, miura_heights, sheet, vertex

mujoco = pytest.importorskip("mujoco")
AGREED = 1e-6
CORNER = np.radians(60.0)


def model(shape: Structure, drive: int) -> str:
    """MJCF text; every body has its frame on the deployed frame."""
    topology, axis = shape.topology, shape.axis[0]
    children: dict[int, list[int]] = {}
    for panel in range(1, topology.panels):
        children.setdefault(int(topology.parent[panel]), []).append(panel)

    def vector(v: np.ndarray) -> str:
        return " ".join(repr(float(x)) for x in v)

    def body(panel: int) -> str:
        inside = "".join(body(child) for child in children.get(panel, []))
        line = axis[panel - 1]
        joint = f'<joint name="h{panel - 1}" type="hinge" pos="{vector(line[0])}" axis="{vector(line[1] - line[0])}"/>'
        return f'<body name="p{panel}">{joint}<geom type="sphere" size="0.1" mass="1"/>{inside}</body>'

    tree = topology.panels - 1

    def name(panel: int) -> str:
        return f"p{panel}" if panel else "world"

    ends = "".join(
        f'<connect body1="{name(j)}" body2="{name(i)}" anchor="{vector(point)}"/>'
        for (i, j), line in zip(topology.closing, axis[tree:], strict=True)
        for point in line
    )
    return (
        '<mujoco><option gravity="0 0 0" timestep="0.002" iterations="200" tolerance="1e-14" integrator="implicitfast">'
        '<flag contact="disable"/></option><default><joint damping="5" armature="0.1"/>'
        '<equality solref="0.01 1" solimp="0.99 0.9999 0.001"/></default>'
        f"<worldbody>{''.join(body(c) for c in children[0])}</worldbody>"
        f'<equality>{ends}<joint name="drive" joint1="h{drive}" polycoef="0 0 0 0 0"/></equality></mujoco>'
    )


def settled(shape: Structure, start: np.ndarray, drive: int, values: np.ndarray) -> np.ndarray:
    """Tree hinge angles [S, P - 1] that the engine settles to while hinge `drive` is led along values [S]."""
    engine = mujoco.MjModel.from_xml_string(model(shape, drive))
    state = mujoco.MjData(engine)
    tree = shape.topology.panels - 1
    names = [mujoco.mj_id2name(engine, mujoco.mjtObj.mjOBJ_JOINT, k) for k in range(engine.njnt)]
    order = np.array([int(n[1:]) for n in names])
    state.qpos[:] = start[order]
    lead = mujoco.mj_name2id(engine, mujoco.mjtObj.mjOBJ_EQUALITY, "drive")
    found, last = [], float(start[drive])
    for value in values:
        for part in np.linspace(0.0, 1.0, 60)[1:]:
            engine.eq_data[lead, 0] = last + part * (value - last)
            mujoco.mj_step(engine, state, nstep=5)
        for _ in range(400):
            mujoco.mj_step(engine, state, nstep=20)
            if np.abs(state.qvel).max() < 1e-11:
                break
        last = float(value)
        angles = np.zeros(tree)
        angles[order] = state.qpos
        found.append(angles)
    return np.array(found)


def compare(shape: Structure, start: np.ndarray, drive: int, values: np.ndarray, spherical: bool) -> float:
    driven = np.arange(shape.axis.shape[1]) == drive
    run = follow(shape.topology, shape.axis, start[None], driven, values[:, None], spherical)
    assert run.status.ok.all() and run.residual.max() < 1e-9
    tree = shape.topology.panels - 1
    told = settled(shape, start[:tree], drive, values)
    assert np.ptp(told, axis=0).min() > 0.1, "every hinge must move for the comparison to mean something"
    return float(np.abs(told - run.angles[0, :, :tree]).max())


@pytest.mark.parametrize("mode", ["a", "b"])
def test_degree4_vertex(mode: str) -> None:
    sectors = np.radians([60.0, 80.0, 120.0, 100.0])
    shape = vertex(sectors)
    start = shape.by_hinge(flat_foldable_folds(sectors, np.array(1.0), mode))
    values = start[1] * np.array([1.0, 1.3, 0.7])
    assert compare(shape, start, 1, values, spherical=True) < AGREED


def test_thick_bennett_vertex() -> None:
    sectors = np.radians([60.0, 80.0, 120.0, 100.0])
    heights = 0.05 * np.concatenate([[0.0], np.cumsum(bennett_steps(sectors, "b"))[:-1]])
    shape = vertex(sectors, heights)
    start = shape.by_hinge(flat_foldable_folds(sectors, np.array(1.2), "b"))
    assert compare(shape, start, 1, start[1] * np.array([1.0, 1.4, 0.6]), spherical=False) < AGREED


@pytest.mark.parametrize("pitch", [0.0, 0.05])
def test_miura_three_by_three(pitch: float) -> None:
    heights = pitch * miura_heights(3, 3, miura_levels(3, 3, "columns"))
    shape = sheet(miura_corners(3, 3, CORNER), heights)
    start = shape.by_hinge(miura_folds(3, 3, CORNER, np.radians(40.0)))
    drive = int(np.argmax(np.abs(start)))
    assert drive < shape.topology.panels - 1
    values = start[drive] * np.array([1.0, 1.3, 0.7])
    assert compare(shape, start, drive, values, spherical=pitch == 0.0) < AGREED
