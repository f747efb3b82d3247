"""A candidate record made by hand: three strips folded zig-zag, every number from a closed form.

Strips of width W and length L lie side by side along x with edge gaps E; hinge 0 is a valley (axis half the layer
gap G above the faces), hinge 1 a mountain (as far behind the backs). Motion happens in the x-z plane, so it is
written with complex numbers q = x + i z. Plates are so stiff that the deployed network is a chain of rigid strips on
torsion springs. Nothing here uses the program.
"""

from typing import Any

import numpy as np

W, L, T, E, G = 0.2, 0.6, 0.004, 0.002, 0.001
PITCH = W + E
KNUCKLE = 0.0004
LEAF = 0.02
CLEAR_DIAMETER = 0.5
FRAMES = 41
HINGE_SPRING, MOUNT_SPRING = 20.0, 30.0
HINGE_SIGMA = 2e-4
PANEL_MASS, HINGE_MASS, FITTING_MASS, MOUNT_MASS, DRIVE_MASS = 1.3, 0.06, 0.004, 0.2, 0.1
FIGURE, GROWTH, OFFLOAD = 1e-6, 0.2, 0.999
BOW = 2e-5

PROBLEM = f"""schema = "problem/1"
title = "three strips"
[aperture]
clear_diameter = "{CLEAR_DIAMETER * 1e3:g} mm"
min_collecting_area = "0.15 m^2"
[[envelope]]
name = "bay"
size = ["210 mm", "620 mm", "20 mm"]
clearance = "2 mm"
[[envelope]]
name = "locker"
size = ["250 mm", "650 mm", "50 mm"]
[mass]
limit = "7 kg"
growth_allowance = {GROWTH}
[accuracy]
surface_rms_limit = "100 um"
[environment]
gravity_offload = {OFFLOAD}
[structure]
deployed_first_mode_min = "0.5 Hz"
panel_gap = "0.8 mm"
edge_gap = "1.5 mm"
[[keep_out]]
name = "bus"
min = ["-250 mm", "-200 mm", "-300 mm"]
max = ["-130 mm", "200 mm", "-20 mm"]
[search]
objectives = ["stowed_volume", "mass", "first_mode"]
"""


def centres() -> list[float]:
    return [-PITCH, 0.0, PITCH]


def rectangle(x0: float, x1: float, y0: float, y1: float) -> list[list[float]]:
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


def axes_of_hinges() -> list[tuple[float, float]]:
    """(x, z) of both hinge lines."""
    return [(-PITCH / 2, G / 2), (PITCH / 2, -T - G / 2)]


def angles_at(s: float) -> tuple[float, float]:
    return np.pi * (1.0 - s), -np.pi * (1.0 - s)


def pose(turn: complex, shift: complex) -> list[list[float]]:
    """q -> turn q + shift as a 3 x 4 pose."""
    c, i = turn.real, turn.imag
    return [[c, 0.0, -i, shift.real], [0.0, 1.0, 0.0, 0.0], [i, 0.0, c, shift.imag]]


def poses_at(s: float) -> list[Any]:
    first, second = angles_at(s)
    a, b = (complex(*p) for p in axes_of_hinges())
    t1 = np.exp(1j * first)
    s1 = a - t1 * a
    t2 = t1 * np.exp(1j * second)
    s2 = t1 * (b - np.exp(1j * second) * b) + s1
    return [pose(1 + 0j, 0j), pose(t1, s1), pose(t2, s2)]


def profile(slopes: Any) -> float:
    """Mean square about the best-fit plane of strips turned by given angles at root and hinges (sums over x)."""
    n = 4000
    x = np.concatenate([c + W * ((np.arange(n) + 0.5) / n - 0.5) for c in centres()])
    z = sum(a * np.maximum(x - e, 0.0) for a, e in zip(slopes, foot_lines(), strict=True))
    fit = np.stack([np.ones_like(x), x], axis=1)
    left = z - fit @ np.linalg.lstsq(fit, z, rcond=None)[0]
    return float((left**2).mean())


def chain() -> tuple[Any, Any, Any]:
    """Stiffness, mass and weight of the three angles at mount, hinge 0 and hinge 1: rigid bars and point masses."""
    joints = np.array(foot_lines())
    n = 2000
    x = np.concatenate([c + W * ((np.arange(n) + 0.5) / n - 0.5) for c in centres()])
    mass = np.full(x.size, PANEL_MASS / n)
    feet = ((-PITCH, 1), (0.0, -1), (0.0, 1), (PITCH, -1))
    points = [(c + sign * (W / 2 - 0.01), HINGE_MASS / 2) for c, sign in feet]
    points += [(f["at"], FITTING_MASS) for f in leaves()]
    x = np.concatenate([x, [p for p, _ in points]])
    mass = np.concatenate([mass, [m for _, m in points]])
    strip = np.digitize(x, joints[1:])
    arm = np.maximum(x[:, None] - joints, 0.0) * (strip[:, None] >= np.arange(3))
    return np.diag([MOUNT_SPRING, HINGE_SPRING, HINGE_SPRING]), (arm * mass[:, None]).T @ arm, mass @ arm


def leaves() -> list[dict[str, Any]]:
    """Leaf boxes of both hinges: each fills its panel's half of the gap, from its panel past the axis by a knuckle."""
    found = []
    for h, (x, z) in enumerate(axes_of_hinges()):
        for side, panel in ((-1.0, h), (1.0, h + 1)):
            # a tenth of a millimetre stays free at the hinge line
            near, far = x + side * 1e-4, x + side * E / 2
            found.append(
                {"joint": f"hinge {h}", "panel": panel, "x": sorted([near, far]), "at": (near + far) / 2,
                 "z": (-T, z + KNUCKLE) if h == 0 else (z - KNUCKLE, 0.0)}
            )  # fmt: skip
    return found


def unit(x: float, z: float, spring: float, sigma: float, feet: list[list[float]]) -> dict[str, Any]:
    return {
        "at": [x, 0.0, z],
        "axes": [[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]],
        "stiffness": [1e8, 1e8, 1e8, spring, 1e6, 1e6],
        "misfit_sigma": [0.0, 0.0, 0.0, sigma, 0.0, 0.0],
        "feet": feet,
        "pad_radius_m": 0.005,
    }


def requirement(name: str, direction: str, value: float, limit: float, unit_: str) -> dict[str, Any]:
    room = limit - value if direction == "max" else value - limit
    return {"name": name, "direction": direction, "value": value, "limit": limit, "unit": unit_,
            "margin": room / abs(limit), "ok": room >= 0}  # fmt: skip


def collecting_area() -> float:
    """Strips within the circle: the middle one whole chords, the outer two between their inner edges and the rim."""
    r = CLEAR_DIAMETER / 2

    def under(x: float) -> float:
        x = min(x, r)
        return float(x * np.sqrt(r * r - x * x) + r * r * np.arcsin(x / r))

    middle = 2.0 * under(W / 2)
    outer = under(PITCH + W / 2) - under(PITCH - W / 2)
    return float(middle + 2.0 * outer)  # the leaves lie in the gaps and cover nothing


def accordion(envelope: str = "bay", digest: str = "") -> dict[str, Any]:
    """The record, fresh at every call."""
    panels = [
        {"id": p, "receiving": True, "outline": rectangle(c - W / 2, c + W / 2, -L / 2, L / 2), "holes": [],
         "z_back": -T, "z_front": 0.0, "mass_kg": PANEL_MASS, "bulk_strain": 0.0, "bending_stiffness_n_m": 4e5,
         "poisson_ratio": 0.3, "bow_1_per_m": BOW, "figure_rms_m": FIGURE, "material": "stiff sheet",
         "section": "solid"}
        for p, c in enumerate(centres())
    ]  # fmt: skip
    hinges, fittings = [], []
    for h, (x, z) in enumerate(axes_of_hinges()):
        reach = E / 2 + 0.01
        hinges.append(
            {"id": h, "panels": [h, h + 1], "axis": [[x, 0.25, z], [x, -0.25, z]],
             "stowed_angle_rad": float(angles_at(0.0)[h]), "kind": "leaf spring", "slack_m": 0.0,
             "mass_kg": HINGE_MASS,
             "units": [unit(x, z, HINGE_SPRING, HINGE_SIGMA, [[x - reach, 0.0], [x + reach, 0.0]])]}
        )  # fmt: skip
    for leaf in leaves():
        fittings.append(
            {"panel": leaf["panel"], "joint": leaf["joint"],
             "outline": rectangle(leaf["x"][0], leaf["x"][1], -LEAF / 2, LEAF / 2),
             "z_back": leaf["z"][0], "z_front": leaf["z"][1], "mass_kg": FITTING_MASS}
        )  # fmt: skip
    edge = -1.5 * PITCH + E / 2
    mount = {"panel": 0, "mass_kg": MOUNT_MASS,
             "units": [unit(edge, -T / 2, MOUNT_SPRING, 0.0, [[edge + 0.01, 0.0]])]}  # fmt: skip
    s = np.linspace(0.0, 1.0, FRAMES)
    height = 3 * T + 2 * G
    # leaves stick out of the stack by half a gap less a tenth of a millimetre at each end, within its height
    size = [W + E - 2e-4, L, height]
    basic = 3 * PANEL_MASS + 2 * HINGE_MASS + len(fittings) * FITTING_MASS + MOUNT_MASS + DRIVE_MASS
    stiff, heavy, weight = chain()
    first = float(np.sqrt(np.min(np.linalg.eigvals(np.linalg.solve(heavy, stiff)).real))) / (2 * np.pi)
    release = 9.80665 * (1 - OFFLOAD) * np.linalg.solve(stiff, weight)
    accuracy = errors(release)
    rms = float(np.sqrt(accuracy["joints_m2"] + accuracy["figure_m2"] + accuracy["steady_m2"]))
    volume = float(np.prod(size))
    metrics = {
        "stowed_volume_m3": volume, "longest_stowed_side_m": max(size), "mass_kg": basic * (1 + GROWTH),
        "basic_mass_kg": basic, "collecting_area_m2": collecting_area(), "surface_rms_m": rms,
        "in_plane_rms_m": in_plane(release), "first_mode_hz": first, "packing_efficiency": 3 * W * L * T / volume,
        "part_count": 5, "distinct_parts": 1,
    }  # fmt: skip
    allowed = {"bay": [0.206, 0.616, 0.016], "locker": [0.25, 0.65, 0.05]}[envelope]
    fit = max(a / b for a, b in zip(size, allowed, strict=True))
    return {
        "schema": "candidate/1", "id": f"{envelope}-1", "family": "accordion", "envelope": envelope,
        "problem_digest": digest, "genes": {"accordion.strips": 3, "build.thickness": T},
        "panels": panels, "hinges": hinges, "latches": [], "mount": mount, "fittings": fittings,
        "drives": [{"name": "drive stage 0", "panel": 0, "mass_kg": DRIVE_MASS}], "restraints": [],
        "path": {"s": s.tolist(), "poses": [poses_at(float(x)) for x in s],
                 "angles": [list(angles_at(float(x))) for x in s], "stages": [{"hinges": [0, 1], "s": [0.0, 1.0]}]},
        "stowed": {"rotation": np.eye(3).tolist(), "size_m": size},
        "metrics": metrics, "mass_growth": growth(len(fittings) * FITTING_MASS),
        "requirements": [
            requirement("envelope.fit", "max", fit, 1.0, "1"),
            requirement("mass.limit", "max", metrics["mass_kg"], 7.0, "kg"),
            requirement("accuracy.surface_rms_limit", "max", rms, 1e-4, "m"),
            requirement("aperture.min_collecting_area", "min", metrics["collecting_area_m2"], 0.15, "m^2"),
            requirement("structure.deployed_first_mode_min", "min", first, 0.5, "Hz"),
            requirement("structure.panel_gap", "min", G, 8e-4, "m"),
            requirement("structure.edge_gap", "min", E, 1.5e-3, "m"),
        ],
        "accuracy": accuracy,
        "verification": {
            "verified": True, "closure_residual_m": 0.0, "least_clearance_m": 5e-4, "clearance_method": "by hand",
            "fits": True, "plate_degree": 6, "order_sensitivity": {"surface_rms": 0.0, "first_mode": 0.0},
        },
    }  # fmt: skip


def growth(fittings: float) -> list[dict[str, Any]]:
    """One allowance on every kind of part."""
    basic = {"panels": 3 * PANEL_MASS, "hinges": 2 * HINGE_MASS, "latches": 0.0, "mount": MOUNT_MASS,
             "fittings": fittings, "drives": DRIVE_MASS, "harness": 0.0, "restraints": 0.0}  # fmt: skip
    return [{"part": name, "basic_kg": kg, "class": "all", "maturity": "one allowance", "growth": GROWTH,
             "mass_kg": kg * (1 + GROWTH)} for name, kg in basic.items()]  # fmt: skip


def errors(release: Any) -> dict[str, float]:
    """Mean squares of the chain: two hinge misfits, bow of each strip about its own hinge line, gravity release.

    Every joint sits at y = 0 and turns freely only about y, so a strip's bow bends it both ways about its own feet:
    w = bow (x'^2 + y^2) / 2 with x' from the foot nearer the root, its slope at the next foot carried on.
    """
    joints = sum(profile(np.eye(3)[k]) for k in (1, 2)) * HINGE_SIGMA**2
    n = 400
    y = L * ((np.arange(n) + 0.5) / n - 0.5)
    x = np.concatenate([c + W * ((np.arange(n) + 0.5) / n - 0.5) for c in centres()])
    bow_x = bow_profile(x)
    grav = sum(a * np.maximum(x - e, 0.0) for a, e in zip(release, foot_lines(), strict=True))
    square = {}
    for name, along in (("bow", bow_x), ("gravity", grav), ("steady", bow_x + grav)):
        z = along[:, None] + (BOW * y**2 / 2 if name != "gravity" else 0.0 * y)[None, :]
        fit = np.stack([np.ones_like(x), x], axis=1)
        flat = z.mean(axis=1) - fit @ np.linalg.lstsq(fit, z.mean(axis=1), rcond=None)[0]
        square[name] = float((flat**2).mean() + ((z - z.mean(axis=1, keepdims=True)) ** 2).mean())
    return {
        "joints_m2": joints, "figure_m2": FIGURE**2, "bow_m2": square["bow"], "gravity_m2": square["gravity"],
        "steady_m2": square["steady"], "in_plane_joints_m2": in_plane_square(np.array([0.0, 1.0, 0.0]) * HINGE_SIGMA)
        + in_plane_square(np.array([0.0, 0.0, 1.0]) * HINGE_SIGMA),
    }  # fmt: skip


def foot_lines() -> list[float]:
    """x of the mount and of both hinge lines."""
    return [-1.5 * PITCH + E / 2, *(x for x, _ in axes_of_hinges())]


def bow_profile(x: Any) -> Any:
    """Deflection at y = 0 along x: each strip leaves its inner foot with the slope that it was handed there."""
    out = np.zeros_like(x)
    value, slope, previous = 0.0, 0.0, foot_lines()[0]
    for k, c in enumerate(centres()):
        inner, outer = c - W / 2 + 0.01, c + W / 2 - 0.01
        value, previous = value + slope * (inner - previous), inner
        mine = np.abs(x - c) <= W / 2
        away = x[mine] - inner
        out[mine] = value + slope * away + BOW * away**2 / 2
        if k < 2:
            value = value + slope * (outer - inner) + BOW * (outer - inner) ** 2 / 2
            slope = slope + BOW * (outer - inner)
            previous = outer
    return out


def body_shift(turns: Any) -> Any:
    """Shift along x of each strip's face when mount and hinges turn by these angles: -angle times (0 - height)."""
    heights = [-T / 2, *(z for _, z in axes_of_hinges())]
    each = np.asarray(turns) * heights
    return np.cumsum(each)


def in_plane_square(turns: Any) -> float:
    """Mean square of that after removal of the best-fit shift: strips are of equal area."""
    return float(np.var(body_shift(turns)))


def in_plane(release: Any) -> float:
    """rms of misfits and the steady field: gravity release turns strips, bow adds its slope times half the thickness.

    A bowed strip hands its slope at the outer foot on to the next one; both leaves turn alike, so nothing shifts there.
    """
    joints = sum(in_plane_square(np.eye(3)[k] * HINGE_SIGMA) for k in (1, 2))
    n = 400
    away = 0.01 + W * ((np.arange(n) + 0.5) / n) - 0.02  # from the inner foot
    y = L * ((np.arange(n) + 0.5) / n - 0.5)
    handed = BOW * (W - 0.02) * np.arange(3)
    u = body_shift(release)[:, None] - T / 2 * (handed[:, None] + BOW * away)
    return float(np.sqrt(joints + np.var(u) + np.mean((T / 2 * BOW * y) ** 2)))
