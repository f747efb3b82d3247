"""Three legs on a root's rim are as stiff in shifting as the ring they stand for, and stand on the frame."""

import numpy as np
import shapely

from synth.fold.edge_mount import edge_mounted
from synth.problem import catalogue
from tests.near import near
from tests.structure.make import grid


def test_legs_add_up_to_the_ring() -> None:
    made = grid(2, 2)
    mount = catalogue.joints()["bipods_titanium"]
    root = made.geometry.outline[:, 0]
    units = edge_mounted(made.units, root, mount, np.array([0.01]), np.array([0.008]))
    legs = np.flatnonzero(units.kind == 2)
    assert len(legs) == 3 and len(units.panels) == int((made.units.kind != 2).sum()) + 3
    axes, k, s = units.axes[0, legs], units.stiffness[0, legs], units.sigma[0, legs]
    near(axes @ np.swapaxes(axes, -1, -2), np.broadcast_to(np.eye(3), (3, 3, 3)), abs=1e-12)
    assert (np.linalg.det(axes) > 0.0).all()
    whole = np.einsum("uij,ui,uik->jk", axes, k[:, :3], axes)
    near(whole, np.diag([mount.stiffness[0], mount.stiffness[0], mount.stiffness[2]]), rel=1e-9, abs=1e-3)
    # the ring's place from the legs' errors: least squares with the stiffnesses as weights
    pull = np.einsum("uij,ui->uij", axes, k[:, :3] * s[:, :3])
    spread = np.einsum("uij,uik->jk", pull, pull)
    inverse = np.linalg.inv(whole)
    deviation = np.sqrt(np.diag(inverse @ spread @ inverse))
    near(deviation, [mount.sigma[0], mount.sigma[0], mount.sigma[2]], rel=1e-9)
    rim = shapely.Polygon(root[0]).exterior
    for foot in units.feet[0, legs, 0]:
        near(rim.distance(shapely.Point(foot)), 0.01, rel=1e-9)
        assert shapely.Polygon(root[0]).contains(shapely.Point(foot))
