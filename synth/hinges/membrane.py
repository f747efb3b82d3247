"""A film that joins two panels while they move and is loose once they are deployed."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Floats
from synth.core.turning import TurnLaw
from synth.hinges.kind import JointNumbers, six
from synth.hinges.leaf import least_fold_radius, second_moment
from synth.hinges.model import JointModel, Parameter


@dataclass(frozen=True, eq=False)
class Membrane(JointModel):
    """Membrane of film for hinges with slack: lets panels part by its free length, weighs next to nothing; it
    bends and holds nothing else, so it places nothing, and panels that only films hold are a mechanism.

    E t^3 w / (12 l) about the edge for a strip w wide of free length l (beam theory, thin strip, no Poisson effect).
    Its free length exceeds the gap that it spans, so it pulls at nothing; free play is its slack. A unit spans a whole
    hinge line: the numbers of the entry are those of its reference width and length. Below the fold radius told,
    E t / (2 sigma), a fold is a crease: creases are accepted, for nothing rests on the film.
    """

    name: ClassVar[str] = "membrane"
    role: ClassVar[str] = "membrane"
    life: ClassVar[str] = "film survives very many folds when thin and fewer when thick; creases weaken it"

    film_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the film")]
    film_density: Annotated[float, Parameter("kg/m^3", "density of the film")]
    film_strength: Annotated[float, Parameter("Pa", "yield strength of the film")]
    film_thickness: Annotated[float, Parameter("m", "thickness of the film")]
    bond: Annotated[
        float, Parameter("m", "width of the strip bonded to each panel, radius of the pad that stands for it")
    ]
    width: Annotated[float, Parameter("m", "reference length along the edge")]
    free_length: Annotated[float, Parameter("m", "reference free length across it")]

    def bending_stiffness(self, width: Floats, free_length: Floats) -> Floats:
        """E t^3 w / (12 l) (N m/rad) of a strip bent about its edge; any shape."""
        return np.asarray(self.film_modulus * second_moment(1.0, self.film_thickness) * width / free_length)

    def film_mass(self, width: Floats, free_length: Floats) -> Floats:
        """kg of a strip of that free length, with what is bonded to both panels."""
        return np.asarray(self.film_density * self.film_thickness * width * (free_length + 2.0 * self.bond))

    def numbers(self) -> JointNumbers:
        width, length = np.array(self.width), np.array(self.free_length)
        rate = self.bending_stiffness(width, length)
        return JointNumbers(
            stiffness=six(0.0, 0.0, 0.0, rate, 0.0, 0.0),
            sigma=np.zeros(6),
            mass=self.film_mass(width, length),
            knuckle=self.film_thickness,
            width=self.width,
            least_gap=0.0,
            largest_angle=2.0 * np.pi,
            pad_radius=self.bond,
            turn=TurnLaw(flexure_rate=rate, largest_angle=np.pi),
            fold_radius=least_fold_radius(self.film_modulus, self.film_strength, self.film_thickness),
            free_play=six(length, length, length, 0.0, 0.0, 0.0),
        )
