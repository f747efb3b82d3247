"""Designs by hand: strips and grids of panels with their hinges, latches and mount."""

from dataclasses import replace

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.fittings import Fittings
from synth.core.geometry import Geometry
from synth.core.joints import SPACECRAFT, JointMasses, Units
from synth.core.panels import Panels
from synth.core.polygon import area
from synth.core.status import Status
from synth.core.topology import Topology

ALONG_X = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
"""Axes of a unit on an edge parallel to y with panel j on the +x side (rows along, across, z)."""
ALONG_Y = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Floats:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def unit(at: Floats, axes: Floats, i: int, j: int, owner: int, kind: int, reach: float) -> dict[str, object]:
    """One unit at [3]; its feet lie `reach` to both sides of it (a mount's straight below it)."""
    across = axes[1, :2]
    first = at[:2] - reach * across
    second = first if j == SPACECRAFT else at[:2] + reach * across
    return {"panels": (i, j), "owner": owner, "kind": kind, "at": at, "axes": axes, "feet": np.stack([first, second])}


def design(
    outlines: list[Floats],
    parent: list[int],
    units: list[dict[str, object]],
    *,
    thickness: float = 0.01,
    density: float = 2700.0,
    modulus: float = 70e9,
    poisson: float = 0.3,
    stiffness: tuple[float, ...] = (1e7, 1e7, 1e7, 1e4, 1e4, 1e4),
    sigma: tuple[float, ...] = (5e-6, 5e-6, 5e-6, 2e-5, 2e-5, 2e-5),
    pad: float = 0.01,
    hinge_mass: float = 0.0,
    rows: int = 1,
) -> Design:
    """A design of `rows` equal candidates from outlines, parents and units (hinges, latches, mount in order)."""
    count, hinges = len(outlines), len(parent) - 1
    corners = max(len(o) for o in outlines)
    outline = np.stack([np.concatenate([o, np.repeat(o[-1:], corners - len(o), axis=0)]) for o in outlines])
    outline = np.tile(outline, (rows, 1, 1, 1))
    kind = np.array([u["kind"] for u in units], dtype=np.int64)
    latches = [u for u in units if u["kind"] == 1]
    latchable = sorted({(int(u["owner"]), u["panels"]) for u in latches}, key=str)  # type: ignore[call-overload]
    topology = Topology(
        parent=np.array(parent),
        sense=np.ones(hinges, dtype=np.int64),
        steps=np.ones(hinges, dtype=np.int64),
        stage=np.zeros(hinges, dtype=np.int64),
        slot=np.zeros(hinges, dtype=np.int64),
        level=np.zeros(count, dtype=np.int64),
        turned=np.zeros(count, dtype=np.int64),
        latchable=np.array([p for _, p in latchable], dtype=np.int64).reshape(-1, 2),
    )
    t = np.full(rows, thickness)
    flat = np.zeros((rows, hinges, 2, 3))
    geometry = Geometry(
        outline, t, flat, np.zeros((rows, hinges)), np.zeros((rows, len(latchable), 2, 2)), Status.fine(rows)
    )
    panels = Panels(
        mass=area(outline) * density * thickness,
        stiffness=np.full((rows, count), modulus * thickness**3 / 12 / (1 - poisson**2)),
        poisson=np.full(rows, poisson),
        bow=np.zeros(rows),
        bulk_strain=np.zeros(rows),
        figure=np.zeros(rows),
        thickness=t,
    )
    many = len(units)
    made = Units(
        panels=np.array([u["panels"] for u in units], dtype=np.int64).reshape(-1, 2),
        owner=np.array([u["owner"] for u in units], dtype=np.int64),
        kind=kind,
        at=np.tile(np.array([u["at"] for u in units]), (rows, 1, 1)),
        axes=np.tile(np.array([u["axes"] for u in units]), (rows, 1, 1, 1)),
        stiffness=np.tile(np.array(stiffness), (rows, many, 1)),
        sigma=np.tile(np.array(sigma), (rows, many, 1)),
        feet=np.tile(np.array([u["feet"] for u in units]), (rows, 1, 1, 1)),
        pad_radius=np.full((rows, many), pad),
    )
    none = np.zeros(0, dtype=np.int64)
    fittings = Fittings(
        none, none, none, np.zeros((rows, 0, 4, 2)), np.zeros((rows, 0)), np.zeros((rows, 0)), np.zeros((rows, 0))
    )
    masses = JointMasses(
        np.full((rows, hinges), hinge_mass), np.full((rows, len(latchable)), hinge_mass), np.zeros(rows)
    )
    return Design(
        topology,
        geometry,
        panels,
        made,
        fittings,
        masses,
        none,
        np.zeros((rows, 0)),
        (),
        Status.fine(rows),
        np.zeros(rows),
    )


def strip(
    count: int,
    length: float = 0.3,
    width: float = 0.3,
    gap: float = 0.0,
    pairs: int = 1,
    reach: float = 0.01,
    spread: float = 0.4,
    height: float | None = None,
    **more: object,
) -> Design:
    """`count` panels in a row along x, hinged edge to edge, the first mounted at its left edge.

    2 `pairs` units an edge, or 1 in its middle where pairs is 0. height: z of the units, default the mid-plane.
    """
    thickness = float(more.get("thickness", 0.01))  # type: ignore[arg-type]
    z = -thickness / 2 if height is None else height
    places = [0.0] if pairs == 0 else list(np.linspace(-spread, spread, 2 * pairs) * width)
    outlines = [rectangle(k * (length + gap), -width / 2, k * (length + gap) + length, width / 2) for k in range(count)]
    units = []
    for h in range(count - 1):
        x = (h + 1) * (length + gap) - gap / 2
        units += [unit(np.array([x, y, z]), ALONG_X, h, h + 1, h, 0, reach + gap / 2) for y in places]
    for y in places:
        base = unit(np.array([0.0, y, z]), ALONG_X, 0, SPACECRAFT, 0, 2, -reach)
        units.append(base)
    return design(outlines, [k - 1 for k in range(count)], units, **more)  # type: ignore[arg-type]


def grid(
    columns: int,
    lines: int,
    side: float = 0.25,
    gap: float = 0.004,
    pairs: int = 1,
    latched: bool = False,
    reach: float = 0.012,
    **more: object,
) -> Design:
    """A comb of panels: a row along x through the middle line, columns hung on it; other neighbours latched or not."""
    pitch = side + gap
    place = {
        (c, r): (c * pitch - (columns - 1) * pitch / 2, r * pitch - (lines - 1) * pitch / 2)
        for c in range(columns)
        for r in range(lines)
    }
    middle, centre = lines // 2, columns // 2
    order = sorted(place, key=lambda k: (abs(k[1] - middle), abs(k[0] - centre), k))
    index = {k: n for n, k in enumerate(order)}
    parent, hinged = [-1], set()
    thickness = float(more.get("thickness", 0.01))  # type: ignore[arg-type]
    units: list[dict[str, object]] = []
    spots = list(np.linspace(-0.35, 0.35, 2 * pairs) * side)

    def joint(a: tuple[int, int], b: tuple[int, int], owner: int, kind: int) -> None:
        (xa, ya), (xb, yb) = place[a], place[b]
        across = np.array([xb - xa, yb - ya]) / pitch
        along = np.array([across[1], -across[0]])
        # along = across x z
        axes = np.array([[*along, 0.0], [*across, 0.0], [0.0, 0.0, 1.0]])
        for s in spots:
            x, y = (np.array([xa, ya]) + np.array([xb, yb])) / 2 + s * along
            units.append(unit(np.array([x, y, -thickness / 2]), axes, index[a], index[b], owner, kind, gap / 2 + reach))

    for k in order[1:]:
        c, r = k
        up = (c - np.sign(c - centre), r) if r == middle else (c, r - np.sign(r - middle))
        up = (int(up[0]), int(up[1]))
        parent.append(index[up])
        hinged.add(frozenset((k, up)))
        joint(up, k, len(parent) - 2, 0)
    if latched:
        found = 0
        for c, r in sorted(place):
            for other in ((c + 1, r), (c, r + 1)):
                if other in place and frozenset(((c, r), other)) not in hinged:
                    joint((c, r), other, found, 1)
                    found += 1
    root = place[order[0]]
    for k in range(3):
        a = 2 * np.pi * k / 3 + 0.3
        at = np.array([root[0] + 0.3 * side * np.cos(a), root[1] + 0.3 * side * np.sin(a), -thickness])
        units.append(unit(at, ALONG_X, 0, SPACECRAFT, 0, 2, 0.0))
    outlines = [
        rectangle(place[k][0] - side / 2, place[k][1] - side / 2, place[k][0] + side / 2, place[k][1] + side / 2)
        for k in order
    ]
    return design(outlines, parent, units, **more)  # type: ignore[arg-type]


def varied(made: Design, rows: int, seed: int = 3) -> Design:
    """That many candidates of the topology with sizes, stiffnesses and misfits scattered by some ten per cent."""
    rng = np.random.default_rng(seed)
    many = made.take(np.zeros(rows, dtype=np.int64))

    def scatter(a: Floats) -> Floats:
        return a * rng.uniform(0.8, 1.25, (rows,) + (1,) * (a.ndim - 1))

    scale = rng.uniform(0.8, 1.25, rows)
    outline = many.geometry.outline * scale[:, None, None, None]
    return replace(
        many,
        geometry=replace(many.geometry, outline=outline, cut=outline),
        panels=replace(
            many.panels,
            mass=scatter(many.panels.mass),
            stiffness=scatter(many.panels.stiffness),
            bow=rng.normal(0, 1e-4, rows),
            bulk_strain=rng.normal(0, 1e-4, rows),
            figure=rng.uniform(0, 1e-6, rows),
        ),
        units=replace(
            many.units,
            at=many.units.at * np.append(np.ones(2), 1.0) * np.stack([scale, scale, np.ones(rows)], -1)[:, None, :],
            feet=many.units.feet * scale[:, None, None, None],
            stiffness=scatter(many.units.stiffness),
            sigma=scatter(many.units.sigma),
        ),
        joint_masses=replace(many.joint_masses, hinge=scatter(many.joint_masses.hinge)),
    )


def sectors(count: int) -> tuple[Design, Floats]:
    """Rigid sectors round a vertex, closed to a ring by a latch, `count` alike rows; and free offsets [count,
    count + 1, 6]: row k has a turn of 1 urad in radial joint k alone, so that sums over rows are sums of squares."""
    turn = 2 * np.pi * np.arange(count) / count
    ray = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    outlines = [np.array([[0.0, 0.0], 0.5 * ray[k], 0.5 * ray[(k + 1) % count]]) for k in range(count)]
    units = []
    for k in range(1, count + 1):
        along = ray[k % count]
        axes = np.array([[*along, 0.0], [-along[1], along[0], 0.0], [0.0, 0.0, 1.0]])
        i, j = (k - 1, k) if k < count else (count - 1, 0)
        owner, kind = (k - 1, 0) if k < count else (0, 1)
        units.append(unit(np.array([*(0.3 * along), -0.005]), axes, i, j, owner, kind, 0.0))
    units.append(unit(np.array([*outlines[0].mean(axis=0), -0.005]), ALONG_X, 0, SPACECRAFT, 0, 2, 0.0))
    made = design(outlines, list(range(-1, count - 1)), units, modulus=1e14, rows=count)
    stiffness = np.tile(np.array([1e9, 1e9, 1e9, 100.0, 1e8, 1e8]), (count, count + 1, 1))
    stiffness[:, -1] = 1e9
    made = replace(made, units=replace(made.units, stiffness=stiffness))
    offset = np.zeros((count, count + 1, 6))
    offset[np.arange(count), np.arange(count), 3] = 1e-6
    return made, offset
