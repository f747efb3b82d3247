"""One row of a batch as a record: plain values, padding dropped, numbers finite, the same bytes every time."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from synth.core.design import Design
from synth.core.errors import RunFolderError
from synth.core.fittings import Fittings
from synth.core.geometry import Geometry
from synth.core.joints import SPACECRAFT, JointMasses, Units
from synth.core.panels import Panels
from synth.core.status import Status
from synth.core.topology import Topology
from synth.record import (
    Frames,
    Identity,
    Judgement,
    Labels,
    Record,
    StowedPose,
    candidate_record,
    read_record,
    record_text,
    tidy,
    write_record,
)
from tests.near import near

ROWS = 2


def design() -> Design:
    """Two triangles (padded to four corners) on one hinge, with a latch, a mount, two fittings, two lumps."""
    ints = lambda *v: np.array(v, dtype=np.int64)  # noqa: E731
    topology = Topology(
        parent=ints(-1, 0), sense=ints(1), steps=ints(1), stage=ints(0), slot=ints(0), level=ints(0, 1),
        turned=ints(1, -1), latchable=ints(0, 1).reshape(1, 2), receiving=np.array([True, False]),
    )  # fmt: skip
    one = np.array(
        [[[0.0, -0.1], [0.0, 0.1], [-0.2, 0.0], [-0.2, 0.0]], [[0.0, 0.1], [0.0, -0.1], [0.2, 0.0], [0.2, 0.0]]]
    )
    scale = np.array([1.0, 2.0])[:, None, None, None]
    axis = np.array([[[0.0, 0.1, 1e-3], [0.0, -0.1, 1e-3]]])
    fine = Status.fine(ROWS)
    spread = lambda x: np.tile(np.asarray(x, dtype=np.float64), (ROWS,) + (1,) * np.ndim(x))  # noqa: E731
    geometry = Geometry(one * scale, np.array([0.004, 0.005]), spread(axis), np.array([[math.pi], [3.0]]),
                        spread([[[0.0, 0.1], [0.0, -0.1]]]), fine)  # fmt: skip
    column = np.array([0.1, 0.2])
    panels = Panels(mass=np.array([[1.0, 2.0], [3.0, 4.0]]), stiffness=np.array([[10.0, 11.0], [12.0, 13.0]]),
                    poisson=np.array([0.3, 0.31]), bow=column, bulk_strain=column, figure=column,
                    thickness=geometry.thickness)  # fmt: skip
    units = Units(
        panels=np.array([[0, 1], [0, 1], [0, SPACECRAFT]]), owner=ints(0, 0, 0), kind=ints(0, 1, 2),
        at=spread(np.zeros((3, 3))), axes=spread(np.tile(np.eye(3), (3, 1, 1))), stiffness=spread(np.full((3, 6), 7.0)),
        sigma=spread(np.full((3, 6), 1e-6)), feet=spread(np.array([[[-0.01, 0], [0.01, 0]]] * 3)),
        pad_radius=spread(np.full(3, 0.004)),
    )  # fmt: skip
    square = np.array([[0.0, 0.0], [0.01, 0.0], [0.01, 0.01], [0.0, 0.01]])
    fittings = Fittings(panel=ints(0, 1, 1), hinge=ints(0, -1, -1), latch=ints(-1, 0, -1),
                        outline=spread(np.stack([square, square + 1e-3, np.zeros((4, 2))])),
                        z_back=spread([-0.004, -0.003, 0.0]), z_front=spread([0.001, 0.0, 0.0]),
                        mass=spread([0.01, 0.02, 0.0]))  # fmt: skip
    return Design(
        topology=topology, geometry=geometry, panels=panels, units=units, fittings=fittings,
        joint_masses=JointMasses(spread([0.05]), spread([0.03]), column), lumps_panel=ints(1, -1),
        lumps_mass=spread([0.2, 0.4]), lumps_name=("restraint inserts", "drive motor"), status=fine, edge_gap=column,
    )  # fmt: skip


def record(**changes: Any) -> dict[str, Any]:
    s = np.array([0.0, 1.0])
    given: dict[str, Any] = {
        "identity": Identity("a-1", "wing", "bay", "0" * 64, {"wing.n": np.int64(2), "build.x": np.float64(1 / 3)}),
        "labels": Labels("sheet", "solid", "pin", "hook", [("restraint", "inserts"), ("drive", "motor")]),
        "design": design(),
        "row": 1,
        "frames": Frames(s, np.tile(np.eye(3, 4), (2, 2, 1, 1)), np.array([[3.0], [0.0]])),
        "stowed": StowedPose(np.eye(3), np.array([0.1, 0.2, 0.3])),
        "judgement": Judgement(
            {"mass_kg": np.float64(5.0), "part_count": 4},
            [{"name": "mass.limit", "direction": "max", "value": 5.0, "limit": 4.0, "unit": "kg"},
             {"name": "x.min_y", "direction": "min", "value": 5.0, "limit": -4.0, "unit": "m"}],
            dict.fromkeys(("joints_m2", "figure_m2", "bow_m2", "gravity_m2", "steady_m2", "in_plane_joints_m2"), 1e-12),
            {"verified": np.bool_(True), "closure_residual_m": 0.0, "least_clearance_m": 1e-3, "clearance_method": "x",
             "fits": True, "plate_degree": np.int64(6), "order_sensitivity": {"surface_rms": 0.0, "first_mode": 0.0}},
        ),
        **changes,
    }  # fmt: skip
    return candidate_record(**given)


def test_it_is_plain_json_of_the_declared_shape() -> None:
    told = json.loads(json.dumps(record(), allow_nan=False))
    assert told == record()
    checked = Record.model_validate(told)
    assert checked.schema_name == "candidate/1"
    assert [p.receiving for p in checked.panels] == [True, False]


def test_padding_corners_and_empty_fittings_are_dropped() -> None:
    told = record()
    near(told["panels"][0]["outline"], [[0.0, -0.2], [0.0, 0.2], [-0.4, 0.0]], abs=1e-12)
    assert [f["joint"] for f in told["fittings"]] == ["hinge 0", "latch 0"]


def test_numbers_belong_to_the_row() -> None:
    told = record()
    near([p["mass_kg"] for p in told["panels"]], [3.0, 4.0], rel=1e-12)
    near([p["bending_stiffness_n_m"] for p in told["panels"]], [12.0, 13.0], rel=1e-12)
    near([told["panels"][0][k] for k in ("z_back", "poisson_ratio")], [-0.005, 0.31], rel=1e-12)
    near([told["hinges"][0]["stowed_angle_rad"], told["mount"]["mass_kg"]], [3.0, 0.2], rel=1e-12)


def test_units_and_lumps_sit_where_they_belong() -> None:
    told = record()
    assert [len(told["hinges"][0]["units"]), len(told["latches"][0]["units"]), len(told["mount"]["units"])] == [1, 1, 1]
    assert len(told["hinges"][0]["units"][0]["feet"]) == 2
    assert len(told["mount"]["units"][0]["feet"]) == 1
    assert told["restraints"] == [{"name": "inserts", "panel": 1, "mass_kg": 0.2}]
    assert told["drives"] == [{"name": "motor", "panel": None, "mass_kg": 0.4}]


def test_margins_follow_from_value_and_limit() -> None:
    """(limit - value) / |limit| for max, (value - limit) / |limit| for min (contract)."""
    rows = record()["requirements"]
    near([r["margin"] for r in rows], [-0.25, 2.25], rel=1e-12)
    assert [r["ok"] for r in rows] == [False, True]


def test_stages_share_the_path_evenly() -> None:
    assert record()["path"]["stages"] == [{"hinges": [0], "s": [0.0, 1.0]}]


def test_what_does_not_go_together_is_refused() -> None:
    with pytest.raises(ValueError, match="path of 2 frames"):
        record(frames=Frames(np.array([0.0, 1.0]), np.zeros((2, 3, 3, 4)), np.zeros((2, 1))))
    with pytest.raises(ValueError, match="labels"):
        record(labels=Labels("sheet", "solid", "pin", "hook"))


def test_a_number_that_is_not_finite_is_refused_by_name() -> None:
    bad = Judgement({"mass_kg": math.inf}, [], {}, {})
    with pytest.raises(ValueError, match=r"mass_kg.*finite"):
        record(judgement=bad)
    with pytest.raises(ValueError, match="finite"):
        record(stowed=StowedPose(np.eye(3), np.array([0.1, np.nan, 0.3])))


def test_tidy_keeps_twelve_digits_and_no_minus_zero() -> None:
    near(tidy(math.pi), 3.14159265359, rel=1e-15)
    assert math.copysign(1.0, tidy(-0.0)) == 1.0


def test_written_and_read_again_it_is_the_same(tmp_path: Path) -> None:
    path = tmp_path / "candidates" / "a-1.json"
    write_record(path, record())
    assert read_record(path) == record()
    assert path.read_text() == record_text(record())
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize(
    ("text", "told"),
    [("{", "not a JSON document"), ("[]", "must be a JSON object"), ('{"schema": "candidate/9"}', "candidate/9"),
     ('{"schema": "candidate/1", "id": 3}', "id: Input should be a valid string")],
)  # fmt: skip
def test_a_faulty_file_is_told_clearly(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "x.json"
    path.write_text(text)
    with pytest.raises(RunFolderError, match=told) as caught:
        read_record(path)
    assert str(path) in str(caught.value)


def test_a_missing_file_is_told_clearly(tmp_path: Path) -> None:
    with pytest.raises(RunFolderError, match="no such candidate"):
        read_record(tmp_path / "x.json")
