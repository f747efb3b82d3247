"""Hundreds of broken files: each ends in InputError that names file and field, and in nothing else."""

import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from synth.core.errors import InputError
from synth.problem import from_mapping, load, loads
from tests.problem.broken import FIELDS, broken
from tests.problem.sample import FULL, WORDS, full, read

ALL = list(broken())


def faults(data: bytes, name: str = "case.toml") -> list[str]:
    with pytest.raises(InputError) as caught:
        loads(data, name, WORDS)
    return str(caught.value).split("\n")


def test_there_are_more_than_three_hundred_of_all_fields() -> None:
    assert len(ALL) > 300
    assert len({label for label, _, _ in ALL}) == len(ALL)


@pytest.mark.parametrize("start", range(0, len(ALL), 40))
def test_each_is_told_with_file_and_field(start: int) -> None:
    for label, data, field in ALL[start : start + 40]:
        lines = faults(data)
        assert all(line.startswith("case.toml: ") for line in lines), label
        assert all(line.isprintable() and len(line) < 2000 for line in lines), label
        named = [line for line in lines if line.removeprefix("case.toml: ").startswith(field)]
        assert named, f"{label}: no line names {field}: {lines}"
        assert not any("Traceback" in line or "pydantic" in line or "Value error" in line for line in lines), label


def test_the_sample_itself_is_right() -> None:
    assert read(FULL).title == FULL["title"]


def test_all_faults_are_told_at_once_in_the_order_of_the_file() -> None:
    data = full(aperture={"clear_diameter": "850 kg", "optic": "refractive"}, mass={"limit": -1, "limt": 3})
    data["search"]["objectives"] = ["mass", "stowed_vol"]
    data["choices"]["families"] = ["acordion"]
    data["schema"] = "problem/2"
    with pytest.raises(InputError) as caught:
        read(data)
    fields = [line.split(": ")[1] for line in str(caught.value).split("\n")]
    assert fields == [
        "schema", "aperture.clear_diameter", "aperture.optic", "mass.limit", "mass.limt", "search.objectives[1]",
        "choices.families[0]",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ({"aperture": {"clear_diameter": "850 kg"}},
         "p.toml: aperture.clear_diameter: must be a length such as \"850 mm\" (a bare number is in m); 'kg' is not a"
         ' unit of a length; given "850 kg"'),
        ({"aperture": {"clear_diametr": 1}}, "Did you mean 'clear_diameter'? Allowed: clear_diameter, min_coll"),
        ({"mass": {"limit": "-3 kg"}}, 'above 0 kg up to 1000000 kg; given "-3 kg"'),
        ({"search": {"objectives": ["mass", "stowed_vol"]}}, "Did you mean 'stowed_volume'?; given \"stowed_vol\""),
        ({"search": {"objectives": ["mass"]}}, "must be two to five different ones of"),
        ({"search": {"evaluations": 0}}, "must be a whole number from 1 to 10000000; given 0"),
        ({"choices": {"hinge_kinds": ["pin_bering"]}}, "hinge_kinds[0]: is not known. Did you mean 'pin_bearing'?"),
        ({"choices": {"hinge_kinds": ["magnet_vee"]}}, "choices.hinge_kinds[0]: is not known."),
        ({"choices": {"panel_materials": ["kapton_hn"]}}, "choices.panel_materials[0]: is not known."),
        ({"choices": {"variables": {"build.thicknes": 1}}}, "Did you mean 'build.thickness'?"),
        ({"choices": {"variables": {"build.thickness": "50 mm"}}}, "from 1 mm to 40 mm; given \"50 mm\""),
        ({"choices": {"variables": {"wing.root_fold": "bak"}}}, "one or more of front, back. Did you mean 'back'?"),
        ({"environment": {"bulk_temperature_change": "20 degC"}}, "'degC' is a scale with an offset"),
        ({"structure": {"deployed_first_mode_min": "60 rpm"}}, "turns are not cycles"),
        ({"aperture": {"min_panel_width": "2 m"}}, "must not exceed aperture.max_panel_length"),
    ],
)  # fmt: skip
def test_messages_say_what_is_allowed(change: dict[str, dict[str, object]], wanted: str) -> None:
    with pytest.raises(InputError) as caught:
        read(full(**change))
    assert wanted in str(caught.value)


def test_presets_and_shapes() -> None:
    for envelope, wanted in (
        ({"name": "a", "preset": "cubesat_12"}, "envelope[0].preset: must be an envelope of the catalogue"),
        ({"name": "a", "preset": "rideshare_half"}, "with a volume"),
        ({"name": "a", "diameter": 1.0}, "envelope[0]: must have exactly one of: size; diameter and height; preset"),
        ({"name": "a", "size": [1, 1, 1], "preset": "cubesat_6u"}, "exactly one of"),
        ({"name": "a", "size": [1, 1, 0.01], "clearance": "5 mm"}, "leaves no room"),
        ({"name": "a/b", "size": [1, 1, 1]}, "envelope[0].name: must be a name"),
    ):
        with pytest.raises(InputError) as caught:
            read({**FULL, "envelope": [envelope]})
        assert wanted in str(caught.value)
    twice = [{"name": "a", "size": [1, 1, 1]}, {"name": "a", "size": [2, 1, 1]}]
    with pytest.raises(InputError, match=r"envelope\[1\].name: must differ"):
        read({**FULL, "envelope": twice})


def test_keep_out_corners_in_order() -> None:
    with pytest.raises(InputError, match=r"keep_out\[0\].min: must lie below max along y"):
        read({**FULL, "keep_out": [{"name": "bus", "min": [-1, 1, -1], "max": [1, 1, 0]}]})


def test_transmissive_needs_what_transmits() -> None:
    optic = {"optic": "transmissive"}
    with pytest.raises(InputError, match=r"choices.panel_materials: names none that transmits; .* ule, fused_silica"):
        read(full(aperture=optic, choices={"panel_materials": ["al_6061_t6"]}))
    with pytest.raises(InputError, match="built of solid or framed sheets"):
        read(full(aperture=optic, choices={"variables": {"build.section": "sandwich"}}))
    with pytest.raises(InputError, match="leaves nothing together"):
        read(full(choices={"variables": {"build.material": "zerodur"}}))
    assert [m.id for m in read(full(aperture=optic)).materials] == ["fused_silica"]


def test_blur_needs_the_focal_ratio() -> None:
    data = full()
    del data["aperture"]["focal_ratio"]
    with pytest.raises(InputError, match=r"aperture.focal_ratio: is missing .* accuracy.blur_limit"):
        read(data)


def test_files_that_are_none(tmp_path: Path) -> None:
    for path, wanted in (
        (tmp_path / "none.toml", "no such file"),
        (tmp_path, "is not a file"),
        (Path(os.devnull), "is not a file"),
        ("nul\0name", r"nul\\x00name: there is no such file"),
        ("x" * 5000, "cannot be read"),
    ):
        with pytest.raises(InputError, match=wanted):
            load(path, WORDS)


def test_load_reads_a_file(tmp_path: Path) -> None:
    file = tmp_path / "p.toml"
    file.write_bytes(b"\xef\xbb\xbf" + b'schema = "problem/1"')
    with pytest.raises(InputError, match=r"p\.toml: title: is missing"):
        load(file, WORDS)


@settings(max_examples=150, deadline=None, derandomize=True, database=None)
@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    with pytest.raises(InputError):
        loads(data, "f", WORDS)


_ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
_TOPS = sorted({path.split(".")[0].split("[")[0] for path, _ in FIELDS})


@settings(max_examples=200, deadline=None, derandomize=True, database=None)
@given(st.dictionaries(st.sampled_from(_TOPS), _ANY, max_size=8))
def test_any_mapping(data: dict[str, object]) -> None:
    with pytest.raises(InputError):
        from_mapping(data, "f", WORDS)


@settings(max_examples=200, deadline=None, derandomize=True, database=None)
@given(st.sampled_from([p for p, k in FIELDS if k not in ("table", "table2")]), _ANY)
def test_any_value_in_any_field(path: str, value: object) -> None:
    """Right or wrong, it never ends in anything but a problem or an InputError."""
    import copy

    from tests.problem.broken import place

    data = copy.deepcopy(FULL)
    place(data, path, value)
    try:
        from_mapping(data, "f", WORDS)
    except InputError as error:
        assert str(error)
