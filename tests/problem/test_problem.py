"""What a right file becomes: SI floats, defaults, resolved catalogues, requirements, source and digest."""

import hashlib
import pickle
from typing import Any

import numpy as np
import pytest

from synth.core.errors import InputError
from synth.problem import Narrowed, from_mapping, load, loads
from synth.problem.objective import OBJECTIVES
from synth.problem.requirement import Requirement, objectives, requirements
from synth.problem.template import template
from synth.problem.toml_text import toml_text
from tests.near import near
from tests.problem.sample import FULL, WORDS, full, read

LEAST = {
    "schema": "problem/1",
    "title": "least",
    "aperture": {"clear_diameter": 0.7},
    "envelope": [{"name": "e", "size": [0.5, 0.4, 0.3]}],
    "mass": {"limit": 5},
    "search": {"objectives": ["mass", "stowed_volume"]},
}


def test_quantities_are_si() -> None:
    p = read(FULL)
    assert (p.aperture.clear_diameter, p.aperture.min_collecting_area, p.aperture.wavelength) == (0.85, 0.42, 5.32e-7)
    assert (p.accuracy.surface_rms_limit, p.accuracy.blur_limit, p.accuracy.refocus) == (5e-6, 5e-5, True)
    assert (p.environment.bulk_temperature_change, p.structure.launch_load_g, p.structure.edge_gap) == (
        20.0,
        15.0,
        1e-3,
    )
    assert p.keep_out[0].max == (0.2, 0.2, -0.06)
    assert p.choices.max_panels == 37 and p.search.seed == 1 and p.mass.growth_allowance == 0.25


def test_defaults_are_those_of_the_format() -> None:
    p = read(LEAST)
    assert p.aperture.optic == "reflective" and not p.transmissive and p.aperture.min_collecting_area is None
    assert p.mass.growth_allowance == 0.2 and p.accuracy.refocus is False and p.accuracy.surface_rms_limit is None
    assert p.environment.gravity_offload == 1.0 and p.environment.bulk_temperature_change == 0.0
    assert p.structure.panel_gap == 5e-4 and p.structure.edge_gap == 1e-3 and p.structure.launch_load_g is None
    assert p.envelope[0].clearance == 0.0 and p.keep_out == () and p.choices.families is None
    assert p.choices.max_panels == 61 and p.search.evaluations == 20000 and p.search.seed == 1
    assert p.families == WORDS.families and len(p.hinge_kinds) >= 4 and len(p.materials) >= 10


def test_a_unit_and_a_bare_number_say_the_same() -> None:
    bare = full(aperture={"clear_diameter": 0.85}, mass={"limit": 14}, accuracy={"surface_rms_limit": 5e-6})
    assert read(bare).model_dump() == read(FULL).model_dump()


def test_envelopes() -> None:
    box, can, bay = read(FULL).envelope
    assert (box.kind, can.kind, bay.kind) == ("box", "round", "box")
    near(box.allowed, [0.614, 0.454, 0.294], rel=1e-12, why="3 mm at both walls")
    near(can.allowed, [0.5, 0.5, 0.4], rel=1e-12)
    near(bay.allowed, [0.2163, 0.2163, 0.356], rel=1e-12, why="12U less 5 mm at both walls")
    near(box.allowed_volume, 0.614 * 0.454 * 0.294, rel=1e-12)
    near(can.allowed_volume, np.pi / 4 * 0.25 * 0.4, rel=1e-12)
    fairing = read({**LEAST, "envelope": [{"name": "f", "preset": "falcon9_fairing", "clearance": 0.3}]}).envelope[0]
    assert fairing.kind == "round"
    near(fairing.allowed, [4.6, 4.6, 12.5], rel=1e-12)


def test_choices_restrict_the_catalogues() -> None:
    p = read(FULL)
    assert p.families == ("accordion", "segment_stack")
    assert [m.id for m in p.materials] == ["al_6061_t6", "fused_silica", "cfrp_qi_m55j"]
    assert [h.name for h in p.hinge_kinds] == ["pin_bearing", "tape_becu"]
    assert p.sections == ("solid", "sandwich") and p.latch_kinds[0].role == "latch" and p.mount_kind.role == "mount"
    clear = read({**LEAST, "aperture": {"clear_diameter": 0.7, "optic": "transmissive"}})
    assert [m.id for m in clear.materials] == ["ule", "fused_silica"] and clear.sections == ("solid", "framed")
    printed = read({**LEAST, "choices": {"panel_materials": ["pla_printed"]}})
    assert [m.id for m in printed.materials] == ["pla_printed"]
    assert "pla_printed" not in [m.id for m in read(LEAST).materials]


def test_variables_are_pinned_and_narrowed() -> None:
    given = {
        "segment_stack.rings": 2,
        "segment_stack.spin": "30 deg",
        "segment_stack.tree": "0,1,1",
        "build.thickness": ["4 mm", "12 mm"],
        "build.material": ["zerodur", "ule"],
        "build.section": "solid",
        "build.hinge": "pin_plain",
    }
    p = read({**LEAST, "choices": {"variables": given}})
    assert p.narrowed["segment_stack.rings"] == Narrowed(2.0, 2.0)
    near(p.narrowed["segment_stack.spin"].low, np.pi / 6, rel=1e-12)
    assert p.narrowed["segment_stack.tree"].options == ("0,1,1",)
    assert p.narrowed["build.thickness"] == Narrowed(0.004, 0.012)
    assert [m.id for m in p.materials] == ["zerodur", "ule"] and p.sections == ("solid",)
    assert [h.name for h in p.hinge_kinds] == ["pin_plain"]
    assert p.range_of("build.thickness") == (0.004, 0.012) and p.range_of("build.face_share") == (0.01, 0.2)
    assert p.range_of("nothing") is None


def test_a_bare_dotted_key_is_the_same_variable() -> None:
    text = toml_text(LEAST) + '\n[choices.variables]\nbuild.thickness = "4 mm"\nsegment_stack = { rings = [1, 2] }\n'
    p = loads(text.encode(), "p", WORDS)
    assert p.narrowed == {"build.thickness": Narrowed(0.004, 0.004), "segment_stack.rings": Narrowed(1.0, 2.0)}


def test_source_and_digest_are_those_of_the_file(tmp_path: Any) -> None:
    data = toml_text(FULL).encode() + b"# a comment\r\n"
    file = tmp_path / "p.toml"
    file.write_bytes(data)
    p = load(file, WORDS)
    assert p.source == data and p.digest == hashlib.sha256(data).hexdigest() and p.name == str(file)
    assert loads(data, "else", WORDS).digest == p.digest


def test_it_travels_to_another_process() -> None:
    p = read(FULL)
    q = pickle.loads(pickle.dumps(p))
    assert q == p and q.source == p.source and q.narrowed == p.narrowed and q.families == p.families


def test_it_is_frozen() -> None:
    with pytest.raises(ValueError, match="frozen"):
        read(FULL).mass.limit = 3.0


def test_a_mapping_makes_the_same_problem_and_its_own_source() -> None:
    p = from_mapping(FULL, "body", WORDS)
    assert p.model_dump() == read(FULL).model_dump() == loads(p.source, "again", WORDS).model_dump()
    with pytest.raises(InputError, match="NoneType has no place"):
        from_mapping({**FULL, "title": None}, "body", WORDS)


def test_search_from_the_command_line() -> None:
    p = read(FULL)
    q = p.with_search(evaluations=50, seed=9)
    assert (q.search.evaluations, q.search.seed, q.search.objectives) == (50, 9, p.search.objectives)
    assert q.digest == p.digest and q.narrowed == p.narrowed and p.with_search() == p
    with pytest.raises(InputError, match=r"evaluations: must be a whole number from 1 .*\n.*seed: must be"):
        p.with_search(evaluations=0, seed=-1)


def test_requirements_are_those_asked_in_fixed_order() -> None:
    names = [r.name for r in requirements(read(FULL))]
    assert names == [
        "envelope.fit", "mass.limit", "accuracy.surface_rms_limit", "accuracy.in_plane_rms_limit",
        "accuracy.blur_limit", "aperture.field_of_view",
        "aperture.min_collecting_area", "aperture.min_panel_width", "aperture.max_panel_length",
        "structure.deployed_first_mode_min", "structure.stowed_first_mode_min", "structure.launch_stress",
        "structure.hinge_stress", "structure.panel_gap", "structure.edge_gap",
    ]  # fmt: skip
    assert [r.name for r in requirements(read(LEAST))] == [
        "envelope.fit", "mass.limit", "structure.hinge_stress",
    ]  # fmt: skip
    # blur is held against its own limit and against the field of view
    assert len({r.metric for r in requirements(read(FULL))}) == len(names) - 1
    zero = read(full(structure={"panel_gap": 0, "edge_gap": 0}))
    assert not [r for r in requirements(zero) if "gap" in r.name], "a gap of zero cannot be failed"


def test_margins() -> None:
    most = Requirement("mass.limit", "max", 14.0, "kg", "mass_kg")
    least = Requirement("aperture.min_collecting_area", "min", 0.4, "m^2", "collecting_area_m2")
    near([most.margin(7.0), most.margin(21.0)], [0.5, -0.5], rel=1e-12)
    near([least.margin(0.5), least.margin(0.3)], [0.25, -0.25], rel=1e-12)
    assert most.margin(14.0) == 0.0 and least.margin(0.4) == 0.0


def test_objectives_in_the_order_asked() -> None:
    p = read(full(search={"objectives": ["collecting_area", "mass", "first_mode"]}))
    assert [(o.metric, o.sign) for o in objectives(p)] == [
        ("collecting_area_m2", -1), ("mass_kg", 1), ("first_mode_hz", -1),
    ]  # fmt: skip
    assert len(OBJECTIVES) == 10


def test_the_template_is_a_right_problem_and_shows_every_field() -> None:
    p = loads(template().encode(), "new.toml", WORDS)
    assert len(requirements(p)) >= 8
    for section in FULL.values():
        for entry in section if isinstance(section, list) else [section]:
            assert not isinstance(entry, dict) or all(f"{key}" in template() for key in entry)


def test_toml_text_reads_back() -> None:
    import tomllib

    odd = {
        'a"b': "x\ny\x7f\u2028é",
        "": [1, [2.5, True]],
        "t": {"u v": {"w": "z"}},
        "l": [{"p": 1}, {"q": [{"r": 2}]}],
        "e": [],
    }
    assert tomllib.loads(toml_text(odd)) == odd
    assert tomllib.loads(toml_text(FULL)) == FULL
