"""The shape of a candidate record, as types that check it when it is read.

SI, the unit in the name. Further fields of other programs are kept. What numbers must satisfy a recheck judges.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA = "candidate/1"

Point2 = tuple[float, float]
Point3 = tuple[float, float, float]
Six = tuple[float, float, float, float, float, float]
Row4 = tuple[float, float, float, float]
Pose = tuple[Row4, Row4, Row4]
Outline = Annotated[list[Point2], Field(min_length=3)]
NotNegative = Annotated[float, Field(ge=0.0)]
Positive = Annotated[float, Field(gt=0.0)]
Index = Annotated[int, Field(ge=0)]


class Part(BaseModel):
    """Strict about infinities and not-a-number, open to further fields."""

    model_config = ConfigDict(extra="allow", allow_inf_nan=False, frozen=True)


class Panel(Part):
    """A prism z_back <= z <= z_front over its outline, deployed."""

    id: Index
    receiving: bool
    outline: Outline
    holes: list[Outline] = []
    z_back: float
    z_front: Annotated[float, Field(le=0.0)]
    windows: list[Outline] | None = None
    sheet_thickness_m: Positive | None = None
    mass_kg: NotNegative
    bulk_strain: float = 0.0
    bending_stiffness_n_m: Positive
    poisson_ratio: float
    bow_1_per_m: float
    figure_rms_m: NotNegative
    material: str
    section: str


class Unit(Part):
    """One six-way spring of a joint with the normal errors of its free position."""

    at: Point3
    axes: tuple[Point3, Point3, Point3]
    stiffness: Six
    misfit_sigma: Six
    cause: str | None = None
    free_offset: Six | None = None
    feet: list[Point2]
    pad_radius_m: NotNegative


class Hinge(Part):
    """A hinge line of panels i and j; stowed angle of j relative to i, right-handed about the axis.

    stress_ratio: of what flexes, stowed, factor of safety included; 1 is what is allowed.
    """

    id: Index
    panels: tuple[Index, Index]
    axis: tuple[Point3, Point3]
    stowed_angle_rad: float
    kind: str
    slack_m: NotNegative
    free_length_m: Positive | None = None
    stress_ratio: NotNegative | None = None
    mass_kg: NotNegative
    units: list[Unit]


class Closing(Part):
    """What a latch must find and pull before any latch holds (three sigma and the steady error), against what its kind
    captures, holds and opens with."""

    sideways_m: NotNegative
    across_m: NotNegative
    force_n: NotNegative
    captures_m: NotNegative
    holds_n: NotNegative
    opens_with_j: NotNegative


class Latch(Part):
    """What joins two edges once deployed."""

    id: Index
    panels: tuple[Index, Index]
    kind: str
    mass_kg: NotNegative
    units: list[Unit]
    closing: Closing | None = None


class Mount(Part):
    """From the root panel to the spacecraft."""

    panel: Literal[0]
    mass_kg: NotNegative
    units: list[Unit]


class Fitting(Part):
    """An upright prism fixed to a panel, deployed frame; it may stand proud of the face."""

    panel: Index
    joint: Annotated[str, Field(pattern=r"^(hinge|latch) \d+$")] | None
    outline: Outline
    z_back: float
    z_front: float
    mass_kg: NotNegative


class Lump(Part):
    """A drive or a restraint: a point mass at the centroid of its panel, or on the spacecraft."""

    name: str
    panel: Index | None
    mass_kg: NotNegative


class Stage(Part):
    """Hinges that move together between two ends of s, linearly between frames.

    freedoms: independent drives that the stage needs; redundant_constraints: beyond those that its loops need.
    """

    hinges: list[Index]
    s: tuple[float, float]
    freedoms: Index | None = None
    redundant_constraints: Index | None = None


class Path(Part):
    """Frames from stowed (s = 0) to deployed (s = 1): poses frames x panels x 3 x 4, angles frames x hinges."""

    s: Annotated[list[float], Field(min_length=2, max_length=200)]
    poses: list[list[Pose]]
    angles: list[list[float]]
    stages: list[Stage]


class Stowed(Part):
    """Rotation into the axes of the envelope and the size of all solids there."""

    rotation: tuple[Point3, Point3, Point3]
    size_m: Point3


class Leave(Part):
    """Where the motion first passes a face ("-x" to "+z") of the box of the stowed solids, root frame."""

    face: Literal["-x", "-y", "-z", "+x", "+y", "+z"]
    s: float


class LeaveWall(Part):
    """Where the motion is first beyond a wall of the envelope, along its axes ("side" of a round one)."""

    face: Literal["-x", "-y", "-z", "+x", "+y", "+z", "side"]
    s: float


class Swept(Part):
    """Room that the whole motion needs, about the root: nothing ever leaves the box, nor the cylinder about z."""

    box_m: tuple[Point3, Point3]
    cylinder_radius_m: Positive
    stowed_box_m: tuple[Point3, Point3]
    leaves: list[Leave]
    leaves_envelope: list[LeaveWall] = []


class GrowthRow(Part):
    """Mass of one kind of part: mass_kg = basic_kg (1 + growth), by the class and maturity of its growth."""

    part: str
    basic_kg: NotNegative
    kind: Annotated[str, Field(alias="class")]
    maturity: str
    growth: NotNegative
    mass_kg: NotNegative


class HeldPanel(Part):
    """A stowed panel: its layer from the spacecraft's end, what it carries, and its hold-down points, deployed plan."""

    panel: Index
    layer: int
    carried_kg: Positive
    hold_downs: list[Point2]
    pad_radius_m: Positive


class Launching(Part):
    """The stowed stack: load along it, pads, and the stress that a bending moment makes in the faces of a panel."""

    load_g: NotNegative
    stacked: bool
    stack_points: Index
    pad_normal_n_per_m: Positive
    pad_lateral_n_per_m: Positive
    stress_per_moment_1_per_m2: Positive
    allowable_pa: Positive
    safety_factor: Positive
    panels: list[HeldPanel]


class JointShare(Part):
    """Share of a mode's strain energy in one joint, and the component that holds most of it."""

    joint: str
    share: float
    component: str


class Mode(Part):
    """A deployed mode. moving: share of the kinetic energy by panel; in_plane: share of it in the plane;
    panels_bending: share of the strain energy in the panels; corners: panels x corners x 3, the greatest 1."""

    frequency_hz: NotNegative
    in_plane: float
    panels_bending: float
    moving: list[float]
    joints: list[JointShare]
    corners: list[list[Point3]]


class DrivenHinge(Part):
    """Nominal torques (N m, magnitudes) at angles from stowed to the end of travel, margins, energy and rates.

    supplied drives; spring, friction, hysteresis, harness hold back; inertia is what the damped motion takes. Margins
    of both forms, the worse of cold and hot, are left out where loops tie hinges together.
    """

    hinge: Index
    moved_inertia_kg_m2: NotNegative
    angle_rad: list[float]
    supplied_n_m: list[float]
    spring_n_m: list[float]
    friction_n_m: list[float]
    hysteresis_n_m: list[float]
    harness_n_m: list[float]
    inertia_n_m: list[float]
    ecss_margin: float | None = None
    nasa_margin: float | None = None
    one_spring_out_margin: float | None = None
    stored_energy_j: NotNegative
    free_rate_rad_s: NotNegative
    damped_rate_rad_s: NotNegative


class Loop(Part):
    """Margins of hinges in loops as one mechanism."""

    ecss_margin: float
    nasa_margin: float


class Driving(Part):
    """Torque on the way. cold: factors on friction and harness; hot: on springs; forms: the standards and editions."""

    stage_seconds: Positive
    cold: dict[str, float]
    hot: dict[str, float]
    forms: list[str]
    loop: Loop | None = None
    hinges: list[DrivenHinge]


class RequirementRow(Part):
    """margin = (limit - value) / |limit| for max, (value - limit) / |limit| for min; negative fails."""

    name: str
    direction: Literal["max", "min"]
    value: float
    limit: float
    unit: str
    margin: float
    ok: bool


class Accuracy(Part):
    """Mean squares over the receiving faces."""

    joints_m2: NotNegative
    figure_m2: NotNegative
    bow_m2: NotNegative
    gravity_m2: NotNegative
    steady_m2: NotNegative
    in_plane_joints_m2: NotNegative


class Shares(Part):
    """Mean squares over the receiving faces that something causes; its name is in `source`, `joint` or `term`."""

    surface_m2: NotNegative
    in_plane_m2: NotNegative
    slope_rad2: NotNegative


class LockedIn(Part):
    """Expected strain energy (J) that misfits lock in, and greatest unit forces (N): three sigma, and steady."""

    energy_j: NotNegative
    hinges_j: NotNegative
    latches_j: NotNegative
    peak_force_n: NotNegative
    peak_joint: str
    steady_peak_force_n: NotNegative
    steady_peak_joint: str


class Budget(Part):
    """Error budget about the datum told: sources alone, joints and terms of the misfits, other datums."""

    datum: str
    datums_m2: dict[str, NotNegative]
    sources: list[Shares]
    joints: list[Shares]
    terms: list[Shares]
    locked_in: LockedIn


class Optics(Part):
    """Wavefront and blur; strehl only within Marechal's range; light: where that of the clear circle goes, m^2."""

    optic: Literal["reflective", "transmissive"]
    wavefront_rms_m: NotNegative
    blur_rad: NotNegative
    diffraction_rad: NotNegative
    strehl: float | None
    light: dict[str, float]
    notes: list[str]


class OrderSensitivity(Part):
    """Relative change with two more polynomial degrees."""

    surface_rms: float
    first_mode: float


class Verification(Part):
    """What was verified, how, and how far it holds."""

    verified: bool
    closure_residual_m: NotNegative
    least_clearance_m: float
    clearance_method: str
    between_frames_m: NotNegative = 0.0
    fits: bool
    plate_degree: Index
    order_sensitivity: OrderSensitivity
    reason: str = ""
    least_clearance_between: Annotated[list[str], Field(min_length=2, max_length=2)] | None = None
    least_clearance_s: Annotated[float, Field(ge=0.0, le=1.0)] | None = None


class Record(Part):
    """One candidate in one envelope (schema `candidate/1`)."""

    model_config = ConfigDict(extra="allow", allow_inf_nan=False, frozen=True)

    schema_name: Annotated[Literal["candidate/1"], Field(alias="schema")]
    id: str
    family: str
    envelope: str
    problem_digest: str
    genes: dict[str, Any]
    panels: Annotated[list[Panel], Field(min_length=1)]
    hinges: list[Hinge]
    latches: list[Latch]
    mount: Mount
    fittings: list[Fitting]
    drives: list[Lump]
    restraints: list[Lump]
    path: Path
    stowed: Stowed
    metrics: dict[str, float]
    requirements: list[RequirementRow]
    accuracy: Accuracy
    verification: Verification
    budget: Budget | None = None
    optics: Optics | None = None
    swept: Swept | None = None
    mass_growth: list[GrowthRow] | None = None
    drive: Driving | None = None
    launch: Launching | None = None
    modes: list[Mode] = []
    construction: dict[str, float] = {}
