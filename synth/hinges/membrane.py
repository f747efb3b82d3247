"""A film that joins two panels while they move and is loose once they are deployed: free length, bending, mass."""

import numpy as np

from synth.core.arrays import Floats

FILM_THICKNESS = 50e-6
"""m: polyimide film of a common gauge (chosen)."""
FILM_MODULUS = 2.5e9
"""Pa: polyimide (maker's data sheet, memory)."""
FILM_DENSITY = 1420.0
"""kg/m3: polyimide (maker's data sheet, memory)."""
BOND = 4e-3
"""m: width of the strip by which the film is bonded to each panel; radius of the pad that stands for it (chosen)."""


def bending_stiffness(width: Floats, free_length: Floats) -> Floats:
    """E t^3 w / (12 l) (N m/rad) of a film strip bent about its edge; any shape.

    Nothing else is credited to it: its free length exceeds the gap that it spans, so that it pulls at nothing, and
    panels that only such films hold are a mechanism. Source: beam theory (derived), thin strip, no Poisson effect.
    """
    return np.asarray(FILM_MODULUS * FILM_THICKNESS**3 * width / (12.0 * free_length))


def film_mass(width: Floats, free_length: Floats) -> Floats:
    """kg of a strip of that free length, with what is bonded to both panels."""
    return np.asarray(FILM_DENSITY * FILM_THICKNESS * width * (free_length + 2.0 * BOND))
