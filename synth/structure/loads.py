"""What the deployed aperture feels and how its surface is judged."""

from dataclasses import dataclass

STANDARD_GRAVITY = 9.80665
"""m/s^2, exact by definition (CGPM 1901)."""


@dataclass(frozen=True)
class Loads:
    """The environment of a whole run. SI.

    through_thickness_difference: front face warmer by this, K. bulk_temperature_change: K.
    gravity_release: share of the weight that was not carried in the ground test (1 - offload); it
    appears as a load along +z once in orbit. refocus: whether the best-fit paraboloid is removed
    from the surface beside the best-fit plane.
    """

    through_thickness_difference: float = 0.0
    bulk_temperature_change: float = 0.0
    gravity_release: float = 0.0
    refocus: bool = False

    @property
    def fitted(self) -> int:
        """How many of 1, x, y, x^2 + y^2 the datum takes off the surface."""
        return 4 if self.refocus else 3
