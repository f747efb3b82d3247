"""Mass growth by class of part and maturity of the design."""

from dataclasses import dataclass

from synth.problem.problem import Problem
from synth.problem.quantity import MATURITIES

CLASSES = ("structures", "composites", "wiring")
TABLE: dict[str, tuple[float, float, float]] = dict(
    zip(
        MATURITIES,
        (
            (0.18, 0.24, 0.50),
            (0.15, 0.19, 0.30),
            (0.08, 0.13, 0.25),
            (0.04, 0.06, 0.05),
            (0.02, 0.03, 0.03),
            (0.0,) * 3,
        ),
        strict=True,
    )
)
"""Growth allowance of structures and mechanisms, composites, wiring at each maturity: the table of a public
space-vehicle mass script with maturity codes as in ANSI/AIAA S-120 (seen there; the standard itself gives
ranges, from memory 18-25, 10-20, 4-15, 2-6, 1-3, 0-3 % for structures)."""


@dataclass(frozen=True)
class Growth:
    """Shares added to the basic mass, by class of part; maturity: empty where one allowance holds for everything."""

    maturity: str
    structures: float
    composites: float
    wiring: float


def growth_of(problem: Problem) -> Growth:
    """The shares of the problem's maturity, or its one allowance for every class."""
    mass = problem.mass
    if mass.maturity is None:
        return Growth("", *[mass.growth_allowance] * 3)
    return Growth(mass.maturity, *TABLE[mass.maturity])


def least_growth(problem: Problem) -> float:
    """The least share that any panel's mass grows by."""
    rates = growth_of(problem)
    return min(rates.structures, rates.composites)
