"""Joints of the catalogue as models, with values of their own where a test needs them."""

from typing import Any

from synth.problem.catalogue import rows


def from_catalogue(kind: type[Any], **changed: float) -> Any:
    """The first joint of this kind in the catalogue with some values replaced."""
    row = next(r for r in rows("joints") if r["kind"] == kind.name)
    given = {field: row["values"][key]["value"] for key, field in kind.keys().items()}
    return kind(**{**given, **changed})
