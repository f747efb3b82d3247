"""Candidates a second on one core, in a batch and the obvious way. Run: python -m tests.bench.evaluate.

The obvious way works one candidate after the other: layout, an MJCF model that MuJoCo poses, the smallest rectangle
round the stowed pack by shapely, and a dense network with scipy.
"""

from collections.abc import Callable
from xml.etree import ElementTree as Xml

import mujoco
import numpy as np
from scipy.linalg import eigh, solve
from shapely.geometry import MultiPoint
from threadpoolctl import threadpool_limits

from synth.cell import Cell, space
from synth.core.arrays import Floats
from synth.core.design import Design
from synth.evaluate import evaluate, held, lay_out, loads_of, stowed_points
from synth.problem import Problem
from synth.search.pool import keep_memory
from synth.stow.sizes import stowed_sizes
from synth.structure.network import deployed
from tests.bench.timing import seconds
from tests.references.plain_network import left_over, twin
from tests.samples import problem

LARGE = {
    "aperture": {"clear_diameter": "2.6 m"},
    "envelope": [{"name": "hall", "size": ["4 m", "4 m", "4 m"]}],
    "mass": {"limit": "9 t"},
}
ROOMY = problem(**LARGE)
STRICT = problem(**{**LARGE, "mass": {"limit": 1e-3}})
"""Everything is too heavy: the screen stops all of it before the structure."""
ROWS = 64
ORDER = 4


def cell(panels: int) -> Cell:
    rings = {7: 1, 19: 2, 37: 3, 61: 4}[panels]
    fixed = {"corners": "all", "rings": rings, "tiling": "hexagon", "tips": "sharp", "tree": "star"}
    return Cell("segment_stack", tuple(sorted(fixed.items())), (("latches", "none"), ("pairs", 1)))


def rows(chosen: Cell, count: int) -> Floats:
    """Thin panels, wide gaps, full cover: the first so many that are designs."""
    names = [a.name for a in space(ROOMY, chosen).axes]
    X = np.random.default_rng(3).uniform(0.4, 0.6, (6 * count, len(names)))
    X[:, names.index("build.edge_gap")] = 1.0
    X[:, names.index("build.thickness")] = np.linspace(0.3, 0.4, len(X))
    X[:, names.index("segment_stack.cover")] = 0.9
    good = lay_out(ROOMY, chosen, space(ROOMY, chosen).columns(X))[0].status.ok
    assert good.sum() >= count
    return X[good][:count]


def engine_poses(design: Design) -> Floats:
    """Stowed poses [P, 3, 4] from MuJoCo: a body a panel, all frames at the origin when deployed."""
    t, g = design.topology, design.geometry
    root = Xml.Element("mujoco")
    Xml.SubElement(root, "compiler", angle="radian")
    bodies = [Xml.SubElement(Xml.SubElement(root, "worldbody"), "body")]
    for h in range(t.panels - 1):
        body = Xml.SubElement(bodies[int(t.parent[h + 1])], "body")
        first, second = g.axis[0, h]
        place = {"pos": " ".join(map(repr, first.tolist())), "axis": " ".join(map(repr, (second - first).tolist()))}
        Xml.SubElement(body, "joint", type="hinge", **place)
        bodies.append(body)
    for body in bodies:
        Xml.SubElement(body, "geom", size="0.01", mass="1", contype="0", conaffinity="0")
    model = mujoco.MjModel.from_xml_string(Xml.tostring(root, encoding="unicode"))
    state = mujoco.MjData(model)
    order = [model.jnt_bodyid[k] for k in range(model.njnt)]
    numbered = {id(b): k for k, b in enumerate(root.find("worldbody").iter("body"))}  # type: ignore[union-attr]
    index = [numbered[id(b)] + 1 for b in bodies]
    hinge_of = {index[h + 1]: h for h in range(t.panels - 1)}
    state.qpos[:] = [g.stowed_angle[0, hinge_of[b]] for b in order]
    mujoco.mj_kinematics(model, state)
    turn = state.xmat.reshape(-1, 3, 3)[index]
    return np.concatenate([turn, state.xpos[index][..., None]], axis=-1)


def obvious(asked: Problem, chosen: Cell, row: Floats, structure: bool) -> tuple[Floats, float, float]:
    """Stowed sides, joint error and first mode of one candidate; without the structure the last two are zero."""
    design = lay_out(asked, chosen, space(asked, chosen).columns(row))[0]
    placed = engine_poses(design)
    f, g = design.fittings, design.geometry
    solids = [(p, g.outline[0, p], -g.thickness[0], 0.0) for p in range(design.topology.panels)]
    solids += [(f.panel[k], f.outline[0, k], f.z_back[0, k], f.z_front[0, k]) for k in range(len(f.panel))]
    found = []
    for panel, ring, low, high in solids:
        body = np.concatenate([np.c_[ring, np.full(len(ring), z)] for z in (low, high)])
        found.append(body @ placed[panel, :, :3].T + placed[panel, :, 3])
    points = np.concatenate(found)
    x, y = MultiPoint(points[:, :2]).minimum_rotated_rectangle.exterior.coords.xy
    plan = [np.hypot(x[1] - x[0], y[1] - y[0]), np.hypot(x[2] - x[1], y[2] - y[1])]
    sides = np.sort([*plan, np.ptp(points[:, 2])])
    if not structure:
        return sides, 0.0, 0.0
    plain = twin(design, ORDER, 0.02, parts=6)
    answer = solve(plain.stiffness, np.column_stack([plain.misfit_loads, *plain.loads.values()]), assume_a="pos")
    at, weights, heights = plain.heights(answer)
    squares = weights @ left_over(at, weights, heights, True) ** 2 / weights.sum()
    lowest = eigh(plain.stiffness, plain.inertia, eigvals_only=True, subset_by_index=[0, 0])[0]
    return sides, squares[: plain.misfit_loads.shape[1]].sum(), np.sqrt(lowest) / (2 * np.pi)


def rates(panels: int) -> list[tuple[float, float]]:
    """Candidates a second of a batch and of the obvious way: screened, and worked out."""
    chosen, found = cell(panels), []
    for asked, structure in ((STRICT, False), (ROOMY, True)):
        X = rows(chosen, ROWS)
        columns = space(asked, chosen).columns(X)
        if (evaluate(asked, chosen, columns).screened_out == structure).any():
            raise AssertionError("the rows are not those that this measures")
        batch = ROWS / seconds(lambda: evaluate(asked, chosen, columns), 3)  # noqa: B023
        single = 1.0 / seconds(lambda: obvious(asked, chosen, X[:1], structure), 2)  # noqa: B023
        found.append((batch, single))
    return found


def steps(panels: int) -> dict[str, float]:
    """Milliseconds a candidate in a batch, step by step; what is left of all is bookkeeping."""
    chosen = cell(panels)
    columns = space(ROOMY, chosen).columns(rows(chosen, ROWS))
    design, made, _ = lay_out(ROOMY, chosen, columns)
    every = np.arange(ROWS)
    parts: dict[str, Callable[[], object]] = {
        "layout, hardware, sections": lambda: lay_out(ROOMY, chosen, columns),
        "stowed size": lambda: stowed_sizes(stowed_points(design), ROOMY.envelope),
        "deployed network": lambda: deployed(design, loads_of(ROOMY)),
        "stowed stack": lambda: held(ROOMY, columns, every, design, made),
        "all of it": lambda: evaluate(ROOMY, chosen, columns),
    }
    return {name: 1e3 * seconds(part, 3) / ROWS for name, part in parts.items()}


def main() -> None:
    """Prints a row a number of panels, then where the time of a candidate goes."""
    keep_memory()
    print(f"candidates a second on one core, batches of {ROWS}")
    print("panels   screen  obvious  ratio   evaluate  obvious  ratio")
    with threadpool_limits(1):
        for panels in (7, 19, 37, 61):
            (screen, plain), (full, slow) = rates(panels)
            print(f"{panels:6d}   {screen:6.0f}  {plain:7.1f}  {screen / plain:5.0f}", end="   ")
            print(f"{full:8.0f}  {slow:7.2f}  {full / slow:5.0f}", flush=True)
        for panels in (7, 19):
            print(f"\nmilliseconds a candidate of {panels} panels")
            for name, ms in steps(panels).items():
                print(f"  {name:28s} {ms:6.2f}")


if __name__ == "__main__":
    main()
