"""MJCF of the mechanism: bodies with the record's masses, joints, loop constraints, a key frame for every station."""

import math
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

from synth.core.arrays import Floats
from synth.export.inertia import MassProperties, body, held, together
from synth.export.linkage import Branch, angles, axis_of, loops, quaternion, relative, steady_signs, tree
from synth.export.parts import Prism, Record, fitting_prisms, panel_prisms, prism_mesh

STEP, SECONDS = 5e-4, 10.0
"""Time step of the simulation, and the time that the ready-made run of key frames stands for (s)."""


def write_mjcf(record: Record, folder: Path) -> list[Path]:
    """mechanism.xml: SI, z out of the receiving face, no gravity; qpos 0 is deployed; returns the file.

    Tree hinges are joints "hinge N" about the record's axes, told from parent to child (so with the other sign where
    the record tells them from child to parent); hinges that close loops are two connect constraints at the ends of
    their axes; a panel on a slack hinge is free against its parent. Key frame k is station k of the path. Masses are
    basic masses, without growth. Geometry does not collide: clearance is proven elsewhere.
    """
    branches = tree(record)
    lines = [
        f"<mujoco model={quoteattr(str(record['id']))}>",
        ' <compiler angle="radian" autolimits="true" inertiafromgeom="false" balanceinertia="false"/>',
        f' <option timestep="{STEP}" gravity="0 0 0" integrator="implicitfast" solver="Newton" tolerance="1e-12" '
        'iterations="200"/>',
        ' <statistic center="0 0 0" extent="1"/>',
        ' <visual><headlight ambient="0.5 0.5 0.5"/></visual>',
        ' <default><geom type="mesh" contype="0" conaffinity="0" group="1"/>',
        '  <site size="0.003" rgba="0.8 0.1 0.1 1"/></default>',
        " <asset>",
        *_meshes(record),
        " </asset>",
        " <worldbody>",
        ' <light pos="0 0 3"/>',
        *_body(record, 0, None, branches, 1),
        " </worldbody>",
        " <equality>",
        *_closures(record),
        " </equality>",
        " <actuator>",
        *(f'  <position name="drive {b.hinge}" joint="hinge {b.hinge}" kp="{_gain(record, b)[0]}" '
          f'kv="{_gain(record, b)[1]}"/>' for b in branches if not b.slack),
        " </actuator>",
        " <keyframe>",
        *_keys(record, branches),
        " </keyframe>",
        "</mujoco>",
    ]  # fmt: skip
    path = folder / "mechanism.xml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return [path]


def _text(values: Sequence[float] | Floats) -> str:
    return " ".join(repr(float(v)) for v in values)


def _solids(record: Record, panel: int) -> list[Prism]:
    return [*panel_prisms(record["panels"][panel]), *fitting_prisms(record, panel)]


def _meshes(record: Record) -> list[str]:
    """One mesh asset a solid, in deployed coordinates; drawn only, for inertia is stated."""
    found = []
    for panel in range(len(record["panels"])):
        for solid in _solids(record, panel):
            points, tri = prism_mesh(solid)
            faces = " ".join(str(int(v)) for v in tri.ravel())
            found.append(
                f'  <mesh name="{solid.name}" inertia="shell" vertex="{_text(points.ravel())}" face="{faces}"/>'
            )
    return found


def _inertial(found: MassProperties) -> str:
    i = found.inertia
    six = (i[0, 0], i[1, 1], i[2, 2], i[0, 1], i[0, 2], i[1, 2])
    return f'<inertial pos="{_text(found.centre)}" mass="{found.mass!r}" fullinertia="{_text(six)}"/>'


def _body(record: Record, panel: int, joint: Branch | None, branches: list[Branch], depth: int) -> list[str]:
    """A body in deployed coordinates with its origin at the deployed frame's, and all that hangs on it."""
    pad = " " * (depth + 1)
    mass = body(record, panel)
    out = [f'{pad}<body name="panel {panel}">']
    if joint is None:
        mass = together([mass, held(record)])
    else:
        point, along = axis_of(record["hinges"][joint.hinge])
        if joint.slack:
            out += [f'{pad} <joint name="slide {joint.hinge} {a}" type="slide" axis="{v}"/>'
                    for a, v in (("x", "1 0 0"), ("y", "0 1 0"), ("z", "0 0 1"))]  # fmt: skip
            out.append(f'{pad} <joint name="ball {joint.hinge}" type="ball"/>')
        else:
            out.append(f'{pad} <joint name="hinge {joint.hinge}" type="hinge" pos="{_text(point)}" '
                       f'axis="{_text(joint.sign * along)}"/>')  # fmt: skip
    out.append(f"{pad} {_inertial(mass)}")
    receiving = record["panels"][panel]["receiving"]
    tone = "0.24 0.36 0.52 1" if panel == 0 else "0.60 0.74 0.88 1" if receiving else "0.5 0.5 0.53 1"
    tones = {"plate": tone, "sheet": "0.70 0.88 0.92 0.45", "frame": "0.20 0.21 0.23 1", "fitting": "0.87 0.52 0.16 1"}
    out += [f'{pad} <geom mesh="{s.name}" rgba="{tones[s.kind]}"/>' for s in _solids(record, panel)]
    for hinge in record["hinges"]:
        if panel in hinge["panels"]:
            out += [f'{pad} <site name="hinge {hinge["id"]} end {e} on {panel}" pos="{_text(p)}"/>'
                    for e, p in enumerate(hinge["axis"])]  # fmt: skip
    for branch in branches:
        if branch.parent == panel:
            out += _body(record, branch.child, branch, branches, depth + 1)
    return [*out, f"{pad}</body>"]


def _closures(record: Record) -> list[str]:
    out = []
    for hinge in loops(record):
        i, j = hinge["panels"]
        out += [f'  <connect name="loop {hinge["id"]} end {e}" site1="hinge {hinge["id"]} end {e} on {i}" '
                f'site2="hinge {hinge["id"]} end {e} on {j}" solref="0.002 1" solimp="0.999 0.9999 0.0001"/>'
                for e in (0, 1)]  # fmt: skip
    return out


def _gain(record: Record, branch: Branch) -> tuple[float, float]:
    """Position and rate gain of a drive: critically damped at 2 Hz with all that hangs on it, deployed.

    kp = I w^2, kv = 2 I w, I about the hinge line.
    """
    from synth.export.linkage import moved_by

    carried = together([body(record, p) for p in sorted(moved_by(record, branch.hinge))])
    point, along = axis_of(record["hinges"][branch.hinge])
    moment, rate = float(along @ carried.about(point) @ along), 4.0 * math.pi
    return float(f"{moment * rate**2:.6g}"), float(f"{2.0 * moment * rate:.6g}")


def _keys(record: Record, branches: list[Branch]) -> list[str]:
    """qpos at every station: joint angles, or shift and quaternion where a slack hinge leaves a panel free."""
    columns = []
    for branch in _in_body_order(branches):
        if branch.slack:
            step = relative(record, branch.parent, branch.child)
            columns.append(np.column_stack([step[:, :, 3], steady_signs(quaternion(step[:, :, :3]))]))
        else:
            columns.append(branch.sign * angles(record)[:, [branch.hinge]])
    s = record["path"]["s"]
    values = np.column_stack(columns) if columns else np.zeros((len(s), 0))
    drives = [n for n, b in enumerate(branches) if not b.slack]
    wanted = {b.hinge: b.sign * angles(record)[:, b.hinge] for b in branches}
    out = []
    for k, row in enumerate(values):
        control = _text([wanted[branches[n].hinge][k] for n in drives])
        out.append(f'  <key name="station {k}" time="{SECONDS * float(s[k])!r}" qpos="{_text(row)}" ctrl="{control}"/>')
    return out


def _in_body_order(branches: list[Branch], panel: int = 0) -> list[Branch]:
    """Depth first, as the bodies stand in the file."""
    found = []
    for branch in branches:
        if branch.parent == panel:
            found += [branch, *_in_body_order(branches, branch.child)]
    return found
