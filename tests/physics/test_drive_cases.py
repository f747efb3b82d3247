"""Drive, strength and mass cases of the reference notes: the standards' worked examples."""

import numpy as np

from synth.mass.rollup import panel_masses
from synth.problem.growth import TABLE
from synth.structure.drive import end_rate
from synth.structure.section import margin_of_safety
from synth.structure.torque import (
    ECSS_MEASURED,
    NASA_FACTORS,
    SPRING_CREDIT,
    Resistances,
    ecss_needed,
    nasa_needed,
)
from tests.near import near
from tests.physics.structure_cases import case


def resistances(given: dict[str, float]) -> Resistances:
    """Torques of a case by their letters. Adhesion (HD) has the factor of hysteresis and friction here: 3."""
    return Resistances(*(np.array(given.get(k, 0.0)) for k in ("S", "FR", "HY", "HA", "TD")))


def test_ecss_with_theoretical_factors() -> None:
    """ECSS-E-ST-33-01C (6 March 2009) 4.7.5.3 (seen); the case's adhesion torque is added with its factor of 3."""
    asked = case("motor.ecss_theoretical")
    needed = float(ecss_needed(resistances(asked.inputs))) + 2.0 * 3.0 * asked.inputs["HD"]
    assert asked.holds(needed, needed / SPRING_CREDIT)


def test_ecss_with_measured_factors() -> None:
    asked = case("motor.ecss_measured")
    needed = float(ecss_needed(resistances(asked.inputs), ECSS_MEASURED)) + 2.0 * 3.0 * asked.inputs["HD"]
    assert asked.holds(needed, needed / SPRING_CREDIT)


def test_nasa_5017b_static_dynamic_and_acceptance() -> None:
    """NASA-STD-5017B equation 4-1 and table 1 (seen in a transcription)."""
    asked = case("motor.nasa5017b")
    given = asked.inputs

    def margin(moving: float, stage: str) -> float:
        zero = np.array(0.0)
        torques = Resistances(np.array(given["fixed_nm"]), np.array(given["variable_nm"]), zero, zero, np.array(moving))
        return float(given["T_available_nm"] / nasa_needed(torques, stage) - 1.0)

    speed = given["acceleration_nm"]
    assert asked.holds(margin(0.0, "analysis"), margin(speed, "analysis"), margin(speed, "acceptance"))
    assert NASA_FACTORS["development"] == (1.35, 2.5, 1.15)


def test_end_rate_of_a_swung_panel() -> None:
    asked = case("deploy.end_rate")
    given = asked.inputs
    energy = np.array(given["torque_nm"] * given["angle_rad"])
    inertia = np.array(given["mass_kg"] * given["length_m"] ** 2 / 3.0)
    rate = float(end_rate(energy, inertia))
    assert asked.holds(float(energy), rate, rate * given["length_m"])


def test_margins_of_safety() -> None:
    asked = case("strength.margin")
    given = asked.inputs
    assert asked.holds(
        margin_of_safety(given["yield_pa"], 1.25, given["sigma_limit_pa"]),
        margin_of_safety(given["ultimate_pa"], 1.4, given["sigma_limit_pa"]),
    )


def test_growth_by_class_and_maturity() -> None:
    """Panels at layout, hinges estimated, harness estimated, composite brackets estimated."""
    asked = case("mass.mga_rollup")
    shares = (TABLE["layout"][0], TABLE["estimated"][0], TABLE["estimated"][2], TABLE["estimated"][1])
    assert near(shares, asked.inputs["mga_fraction"], rel=1e-12)
    assert asked.holds(sum(m * (1.0 + g) for m, g in zip(asked.inputs["cbe_kg"], shares, strict=True)))


def test_silica_sheets() -> None:
    asked = case("mass.silica_sheet_areal")
    square = np.broadcast_to(np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]), (2, 1, 4, 2))
    areal = asked.inputs["density_kg_m3"] * np.array(asked.inputs["thickness_m"])
    assert asked.holds(*panel_masses(square, areal, np.zeros(2))[:, 0])
