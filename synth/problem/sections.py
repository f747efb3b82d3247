"""The sections of a problem file as frozen models: fields as in the file, SI floats inside."""

from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict

from synth.core.errors import nearest
from synth.core.units import QuantityError, to_si
from synth.problem.faults import refuse
from synth.problem.objective import OBJECTIVES
from synth.problem.quantity import (
    Angle,
    Area,
    CommonCause,
    Coordinate,
    Duration,
    Evaluations,
    Flag,
    Frequency,
    Gap,
    Growth,
    HeatFlux,
    HeatLoss,
    Length,
    Load,
    Mass,
    Maturity,
    Name,
    ObjectiveName,
    Optic,
    Ratio,
    Seed,
    Share,
    SmallAngle,
    SmallLength,
    Strain,
    TemperatureChange,
    Wavelength,
)


class Section(BaseModel):
    """Frozen, and nothing but the fields named."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Aperture(Section):
    """The receiving face: its circle, area, optic, and the shop's limits on panels. m, m^2, rad."""

    clear_diameter: Length
    min_collecting_area: Area | None = None
    optic: Optic = "reflective"
    wavelength: Wavelength | None = None
    focal_ratio: Ratio | None = None
    field_of_view: Angle | None = None
    min_panel_width: Length | None = None
    max_panel_length: Length | None = None


class MassLimit(Section):
    """limit (kg) holds for the mass with growth: growth_allowance is the share added to the basic mass; instead of it
    maturity adds a share by class of part (see problem.growth)."""

    limit: Mass
    growth_allowance: Growth = 0.2
    maturity: Maturity | None = None


class Accuracy(Section):
    """Limits on the deployed error (m, m, rad); refocus takes the best-fit paraboloid out too.

    common_cause: whose joint misfits are one draw: "none", "edge" (all units of a joint), "kind" (all
    hinges, and all latches).
    """

    surface_rms_limit: SmallLength | None = None
    in_plane_rms_limit: SmallLength | None = None
    blur_limit: Angle | None = None
    refocus: Flag = False
    common_cause: CommonCause = "none"


class Environment(Section):
    """What the deployed aperture feels beside its joints' misfits. SI.

    Temperature changes in K (front face warmer is positive), or instead of them a heat flux (W/m^2) that enters the
    front face and leaves the back, and the heat loss (W/(m^2 K)) that turns it into a bulk change. gravity_offload:
    share of the weight carried in the ground test. moisture_strain: free growth of composite panels, faces and
    frames by moisture taken up (less than zero where they dry). hinge_creep (rad): angle that each hinge
    edge keeps towards its fold after storage.
    """

    bulk_temperature_change: TemperatureChange = 0.0
    through_thickness_difference: TemperatureChange = 0.0
    heat_flux: HeatFlux = 0.0
    heat_loss: HeatLoss | None = None
    gravity_offload: Share = 1.0
    moisture_strain: Strain = 0.0
    hinge_creep: SmallAngle = 0.0

    @property
    def bulk_change(self) -> float:
        """Bulk temperature change, K: as given, or heat flux over heat loss."""
        return float(self.bulk_temperature_change if self.heat_loss is None else self.heat_flux / self.heat_loss)


class Structure(Section):
    """Least frequencies (Hz), launch load (standard gravities), share of the gap that it may close, least
    torque available over factored torque needed, least gaps (m)."""

    deployed_first_mode_min: Frequency | None = None
    stowed_first_mode_min: Frequency | None = None
    launch_load_g: Load | None = None
    launch_contact_limit: Ratio | None = None
    torque_ratio_min: Ratio | None = None
    panel_gap: Gap = 5e-4
    edge_gap: Gap = 1e-3


def triple(value: Any) -> Any:
    """Three entries, whatever they are."""
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise refuse('must be three lengths [x, y, z], such as ["620 mm", "460 mm", "300 mm"]')
    return tuple(value)


class KeepOut(Section):
    """A box fixed to the root panel that nothing may enter: min and max corners, deployed frame, m."""

    name: Name
    min: Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(triple)]
    max: Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(triple)]


def _objectives(value: Any) -> Any:
    if not isinstance(value, list | tuple):
        raise refuse(f"must be a list of two to five of {', '.join(OBJECTIVES)}")
    return tuple(value)


def _distinct(value: tuple[str, ...]) -> tuple[str, ...]:
    if not 2 <= len(value) <= 5 or len(set(value)) != len(value):
        raise refuse(f"must be two to five different ones of {', '.join(OBJECTIVES)}")
    return value


class Stall(Section):
    """No more candidates for an envelope whose hypervolume rose by no more than `gain` (share of its box) over its
    last so many evaluations."""

    gain: Share = 1e-3
    evaluations: Evaluations = 2000


def _goals(value: Any) -> Any:
    if not isinstance(value, dict) or not value:
        raise refuse('must be a table of objectives, such as { mass = "8 kg" }')
    found: dict[str, float] = {}
    for name, wanted in value.items():
        if name not in OBJECTIVES:
            raise refuse(f"knows no objective {name!r}.{nearest(str(name), OBJECTIVES)} Known: {', '.join(OBJECTIVES)}")
        try:
            found[name] = to_si(wanted, OBJECTIVES[name].unit)
        except QuantityError as error:
            raise refuse(f"{name} {error}") from None
        if not found[name] > 0.0:
            raise refuse(f"{name} must be above zero")
    return found


class Search(Section):
    """What is sought, how many candidates are put forward in each envelope, and the seed.

    goals: a value of an objective that the front is wanted beyond (SI); time_limit: s for search and verification.
    """

    objectives: Annotated[tuple[ObjectiveName, ...], BeforeValidator(_objectives), AfterValidator(_distinct)]
    evaluations: Evaluations = 20000
    seed: Seed = 1
    goals: Annotated[dict[str, float], BeforeValidator(_goals)] = {}
    stall: Stall | None = None
    time_limit: Duration | None = None
