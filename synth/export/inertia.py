"""Mass, centre of mass and inertia of the bodies of a record, by the record's own rule of where masses sit."""

from dataclasses import dataclass

import numpy as np
import shapely

from synth.core.arrays import Floats
from synth.export.linkage import poses
from synth.export.parts import Prism, Record, fitting_prisms, panel_prism, triangles


@dataclass(frozen=True, eq=False)
class MassProperties:
    """mass (kg), centre [3] (m), inertia [3, 3] about the centre (kg m^2), all in one frame."""

    mass: float
    centre: Floats
    inertia: Floats

    def moved(self, pose: Floats) -> "MassProperties":
        """Carried by a pose [3, 4]."""
        turn = pose[:, :3]
        return MassProperties(self.mass, turn @ self.centre + pose[:, 3], turn @ self.inertia @ turn.T)

    def about(self, point: Floats) -> Floats:
        """Inertia [3, 3] about another point: I + m (r^2 1 - r r^T)."""
        r = self.centre - point
        return self.inertia + self.mass * (float(r @ r) * np.eye(3) - np.outer(r, r))


NOTHING = MassProperties(0.0, np.zeros(3), np.zeros((3, 3)))


def point_mass(mass: float, at: Floats) -> MassProperties:
    """A mass at a point."""
    return MassProperties(mass, np.asarray(at, dtype=np.float64), np.zeros((3, 3)))


def together(parts: list[MassProperties]) -> MassProperties:
    """Sum of bodies (parallel axes)."""
    mass = sum(p.mass for p in parts)
    if mass <= 0.0:
        return NOTHING
    centre = sum((p.mass * p.centre for p in parts), np.zeros(3)) / mass
    return MassProperties(mass, centre, sum((p.about(centre) for p in parts), np.zeros((3, 3))))


def plan_moments(face: shapely.Polygon) -> tuple[float, Floats, Floats]:
    """Area, centroid [2] and second moments [2, 2] (integral of r r^T) about it, exactly, from triangles.

    Over a triangle the integral of r r^T is A / 12 (sum of corner products + 9 c c^T), c its centroid (derived).
    """
    points, tri = triangles(face)
    corners = points[tri]
    edge = corners[:, 1:] - corners[:, :1]
    area = 0.5 * (edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0])
    middle = corners.mean(axis=1)
    whole = float(area.sum())
    centre = (area[:, None] * middle).sum(axis=0) / whole
    r, m = corners - centre, middle - centre
    square = np.einsum("tvi,tvj->tij", r, r) + 9.0 * np.einsum("ti,tj->tij", m, m)
    return whole, centre, np.einsum("t,tij->ij", area / 12.0, square)


def of_prism(prism: Prism) -> MassProperties:
    """A prism of uniform density."""
    area, centre, second = plan_moments(prism.face)
    height = prism.high - prism.low
    spread = np.zeros((3, 3))
    spread[:2, :2] = prism.mass * second / area
    spread[2, 2] = prism.mass * height**2 / 12.0
    middle = np.array([*centre, (prism.low + prism.high) / 2.0])
    return MassProperties(prism.mass, middle, np.trace(spread) * np.eye(3) - spread)


def body(record: Record, panel: int) -> MassProperties:
    """Everything that moves with a panel, in deployed coordinates.

    The panel and its fittings as prisms; its share of hinges and latches at their feet (on the mid-plane), in equal
    shares; drives and restraints at the panel's centroid. The mount counts to no panel.
    """
    prism = panel_prism(record["panels"][panel])
    plate = of_prism(prism)
    middle = (prism.low + prism.high) / 2.0
    parts = [plate, *(of_prism(f) for f in fitting_prisms(record, panel))]
    for joint in [*record["hinges"], *record["latches"]]:
        if panel in joint["panels"]:
            side = joint["panels"].index(panel)
            each = float(joint["mass_kg"]) / sum(len(u["feet"]) for u in joint["units"])
            parts += [point_mass(each, np.array([*u["feet"][side], middle])) for u in joint["units"]]
    for lump in [*record["drives"], *record["restraints"]]:
        if lump["panel"] == panel:
            parts.append(point_mass(float(lump["mass_kg"]), plate.centre))
    return together(parts)


def held(record: Record) -> MassProperties:
    """What does not move: mount, drives and restraints on no panel, at the mount's mean place."""
    places = [u["at"] for u in record["mount"]["units"]] or [[0.0, 0.0, 0.0]]
    mass = float(record["mount"]["mass_kg"])
    mass += sum(float(x["mass_kg"]) for x in [*record["drives"], *record["restraints"]] if x["panel"] is None)
    return point_mass(mass, np.mean(np.asarray(places, dtype=np.float64), axis=0))


def whole(record: Record, frame: int) -> MassProperties:
    """The whole candidate, mount included, in the root's frame at a frame of the path; basic mass, without growth."""
    at = poses(record)[frame]
    bodies = [body(record, p["id"]).moved(at[p["id"]]) for p in record["panels"]]
    return together([*bodies, held(record)])
