"""Torque margins in the two standard forms, and the factors that they take."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats

SPRING_CREDIT, INERTIA_CREDIT = 0.8, 0.9
"""ECSS-E-ST-33-01C: what counts of a torque that a spring supplies, and of one that inertia supplies (seen)."""
ECSS_FACTORS = {"inertia": 1.1, "spring": 1.2, "magnetic": 1.5, "friction": 3.0, "hysteresis": 3.0, "harness": 3.0,
                "adhesion": 3.0}  # fmt: skip
"""ECSS-E-ST-33-01C (6 March 2009), 4.7.5.3, theoretical factors on resistances (seen, full text)."""
ECSS_MEASURED = {**ECSS_FACTORS, "spring": 1.2, "magnetic": 1.2, "friction": 1.5, "hysteresis": 1.5, "harness": 1.5}
"""The same where worst cases were measured; adhesion stays at 3 (seen)."""
NASA_FACTORS = {"analysis": (1.5, 3.0, 1.25), "development": (1.35, 2.5, 1.15), "acceptance": (1.25, 2.0, 1.10),
                "one spring out": (1.0, 1.0, 1.0)}  # fmt: skip
"""NASA-STD-5017B (2022-12-06), table 1: factors on fixed, variable and acceleration torque by how they are verified:
analysis; development, qualification, lot or ambient acceptance test; flight acceptance at extremes (seen in a
transcription); the last row: with one spring out."""


@dataclass(frozen=True, eq=False)
class Resistances:
    """Torques that hold a hinge back, N m, magnitudes of equal shape. inertia: what the worst acceleration takes.

    spring: known elastic parts that resist; friction, hysteresis, harness vary with condition.
    """

    spring: Floats
    friction: Floats
    hysteresis: Floats
    harness: Floats
    inertia: Floats


def ecss_needed(r: Resistances, factors: dict[str, float] = ECSS_FACTORS) -> Floats:
    """Least actuation torque 2 (1.2 S + 3 FR + 3 HY + 3 HA) + 1.25 TD by ECSS-E-ST-33-01C (2009), 4.7.5.3 (seen).

    Inertia is taken as TD, the torque of the worst-case acceleration; no magnetic losses, adhesion or output load. Of a
    spring SPRING_CREDIT counts against it. Kinetic energy is not credited. Later revisions (2017, 2019) may differ.
    """
    known = factors["spring"] * r.spring + factors["friction"] * r.friction + factors["hysteresis"] * r.hysteresis
    return 2.0 * (known + factors["harness"] * r.harness) + 1.25 * r.inertia


def nasa_needed(r: Resistances, stage: str = "analysis") -> Floats:
    """Factored torque sum FS_f T_f + FS_v T_v + FS_a T_a by NASA-STD-5017B (2022), equation 4-1 (seen, transcription).

    Fixed: springs that resist. Variable: friction, hysteresis, harness. The margin is available over needed less one,
    required to be 0 or more: the reserve lies in the factors.
    """
    fixed, variable, moved = NASA_FACTORS[stage]
    return fixed * r.spring + variable * (r.friction + r.hysteresis + r.harness) + moved * r.inertia


def margins(supplied: Floats, r: Resistances) -> tuple[Floats, Floats]:
    """(ECSS margin, NASA margin) by analysis: 0.8 T / T_min - 1 and T / needed - 1; both 0 or more where met."""
    least = 1e-12
    ecss = SPRING_CREDIT * supplied / np.maximum(ecss_needed(r), least) - 1.0
    nasa = supplied / np.maximum(nasa_needed(r), least) - 1.0
    return np.asarray(ecss), np.asarray(nasa)
