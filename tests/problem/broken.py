"""Broken problem files, made by rule: every field with every kind of wrong value, and files that are none at all."""

import copy
import math
import random
from collections.abc import Iterator
from typing import Any

from synth.problem.toml_text import toml_text
from tests.problem.sample import FULL

Broken = tuple[str, bytes, str]
"""A label, the bytes, and the field that the message must name (empty: the file as a whole)."""

WRONG: dict[str, tuple[Any, ...]] = {
    "m": ("850 kg", "850 furlong_s", "-3 mm", -1.0, True, math.nan, math.inf, "nan mm", "1e999 m", "", "mm", [1.0],
          {"a": 1}, "9**9**9 m", "7 degC", 10**400, "850 mm 3", "200 m"),
    "offset": ("850 kg", True, math.nan, "1e999 m", "left", [1.0], {"a": 1}, -2000.0),
    "m^2": ("0.4 m", "0.4 kg", 0, -0.1, False, math.nan, "a lot", [], "1e9 m^2"),
    "kg": ("14 m", "14 lbf_", "-1 kg", 0, True, -math.inf, "heavy", {}, [14]),
    "rad": ("5 mm", "3 Hz", "5 %", 0.0, -1e-6, True, math.nan, "steep", []),
    "Hz": ("60 rpm", "60 rad/s", "60 s", -1, 0, True, math.nan, "fast", []),
    "K": ("20 degC", "20 m", True, math.nan, "warm", [], 1e9),
    "1": ("4 m", "4 rad", -1.0, True, math.nan, "much", [], {}, 1e9),
    "word": (3, True, "sideways", "", [], {}, math.nan, "x" * 300, "two\nlines"),
    "whole": (1.5, "many", True, -1, 10**30, [], {}, math.nan),
    "flag": (1, 0, "yes", "true", [], {}, math.nan),
    "words": ("accordion", [], [3], ["no such thing"], [""], {}, True, ["mass", "mass"], [["mass"]]),
    "table": ("text", 3, True, [], [1], math.nan),
    "triple": ([], ["1 m", "1 m"], ["1 m"] * 4, "1 m", 3.0, ["1 m", "1 m", "1 kg"], [True, 1, 1], {}, [math.nan] * 3),
    "pins": ([1, 9], "a few", [1, 2, 3], [2, 1], True, [], {"a": 1}, 1.5),
}  # fmt: skip

FIELDS: tuple[tuple[str, str], ...] = (
    ("schema", "word"), ("title", "word2"), ("aperture", "table"), ("aperture.clear_diameter", "m"),
    ("aperture.min_collecting_area", "m^2"), ("aperture.optic", "word"), ("aperture.wavelength", "m"),
    ("aperture.focal_ratio", "1"), ("aperture.field_of_view", "rad"), ("aperture.min_panel_width", "m"),
    ("aperture.max_panel_length", "m"), ("envelope", "table"), ("envelope[0]", "table2"), ("envelope[0].name", "word2"),
    ("envelope[0].size", "triple"), ("envelope[1].diameter", "m"), ("envelope[1].height", "m"),
    ("envelope[2].preset", "word"), ("envelope[2].clearance", "m"), ("mass", "table"), ("mass.limit", "kg"),
    ("mass.growth_allowance", "1"), ("mass.maturity", "word"), ("accuracy.surface_rms_limit", "m"),
    ("accuracy.in_plane_rms_limit", "m"),
    ("accuracy.blur_limit", "rad"), ("accuracy.refocus", "flag"), ("environment.bulk_temperature_change", "K"),
    ("environment.through_thickness_difference", "K"), ("environment.gravity_offload", "1"),
    ("structure.deployed_first_mode_min", "Hz"), ("structure.stowed_first_mode_min", "Hz"),
    ("structure.launch_load_g", "1"), ("structure.panel_gap", "m"), ("structure.edge_gap", "m"), ("choices", "table"),
    ("structure.launch_contact_limit", "1"), ("structure.torque_ratio_min", "1"),
    ("choices.families", "words"), ("choices.panel_materials", "words"), ("choices.hinge_kinds", "words"),
    ("choices.max_panels", "whole"), ("choices.variables", "table"), ("choices.variables.segment_stack.rings", "pins"),
    ("keep_out[0].name", "word2"), ("keep_out[0].min", "triple"), ("search", "table"), ("search.objectives", "words"),
    ("search.evaluations", "whole"), ("search.seed", "whole"),
)  # fmt: skip
WRONG["word2"] = tuple(v for v in WRONG["word"] if v != "sideways")
WRONG["table2"] = tuple(v for v in WRONG["table"] if not isinstance(v, list))
MISSING = ("schema", "title", "aperture", "aperture.clear_diameter", "envelope", "envelope[0].name", "mass",
           "mass.limit", "search", "search.objectives", "aperture.focal_ratio", "keep_out[0].min")  # fmt: skip
NO_TOML: tuple[tuple[str, bytes], ...] = (
    ("empty", b""),
    ("blank", b" \n\t\n"),
    ("binary", bytes(range(256)) * 40),
    ("nulls", b"\0" * 5000),
    ("random", random.Random(3).randbytes(4096)),
    ("latin-1", 'title = "caf\xe9"'.encode("latin-1")),
    ("utf-16", 'schema = "problem/1"'.encode("utf-16")),
    ("json", b'{"schema": "problem/1"}'),
    ("yaml", b"schema: problem/1\ntitle: x\n"),
    ("half a line", b'schema = "problem/1'),
    ("twice the same key", b'schema = "problem/1"\nschema = "problem/1"\n'),
    ("twice the same table", b"[mass]\n[mass]\n"),
    ("deep lists", b"a = " + b"[" * 20000 + b"]" * 20000),
    ("deep tables", b"a = " + b"{a=" * 5000 + b"1" + b"}" * 5000),
    ("long number", b"a = " + b"9" * 6000),
    ("huge", b"# " + b"x" * (2 << 20)),
    ("many keys", b"\n".join(b"k%d = 1" % i for i in range(3000))),
    ("one long dotted key", b".".join([b"a"] * 3000) + b" = 1"),
    ("long name", b'"' + b"n" * 100000 + b'" = 1'),
    ("control characters in a key", b'"\\u001b[31m" = 1'),
)


def place(data: Any, path: str, value: Any) -> None:
    """Sets the field of a dotted path such as envelope[1].size; variables keep their dotted name."""
    if path.startswith("choices.variables."):
        data["choices"]["variables"][path.removeprefix("choices.variables.")] = value
        return
    keys: list[Any] = []
    for part in path.split("."):
        name, _, index = part.partition("[")
        keys += [name] + ([int(index[:-1])] if index else [])
    for key in keys[:-1]:
        data = data[key]
    if value is MISSING:
        del data[keys[-1]]
    else:
        data[keys[-1]] = value


def _with(path: str, value: Any) -> bytes:
    data = copy.deepcopy(FULL)
    place(data, path, value)
    return toml_text(data).encode()


def broken() -> Iterator[Broken]:
    """All broken files, the same each time."""
    for path, kind in FIELDS:
        for i, value in enumerate(WRONG[kind]):
            yield f"{path} wrong {i}", _with(path, value), path
    for path in MISSING:
        yield f"{path} missing", _with(path, MISSING), path
    for section in ("aperture", "mass", "accuracy", "environment", "structure", "choices", "search", "envelope[1]"):
        yield f"{section} unknown", _with(f"{section}.surprise", 1), f"{section}.surprise"
    yield "unknown at the top", _with("surprise", {"a": 1}), "surprise"
    for label, data in NO_TOML:
        yield label, data, ""
