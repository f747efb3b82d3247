"""What a problem leaves open: families, materials, hinges, and variables pinned or narrowed by name."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from synth.core.errors import nearest
from synth.core.units import QuantityError, allowed, show, to_si
from synth.problem.catalogue import Catalogue
from synth.problem.faults import Fault, fault, given_name, refuse
from synth.problem.quantity import Name, PanelCount
from synth.problem.sections import Section
from synth.problem.vocabulary import Allowed, Narrowed, Pins, Vocabulary

MOST_PANELS = 61


def _names(value: Any) -> Any:
    if not isinstance(value, list | tuple) or not value or not all(isinstance(v, str) for v in value):
        raise refuse('must be a list of one or more names, such as ["one", "another"]')
    if len(set(value)) != len(value):
        raise refuse("names something twice")
    return tuple(value)


def _table(value: Any) -> Any:
    if not isinstance(value, dict):
        raise refuse('must be a table of variable names, such as "build.thickness" = ["4 mm", "12 mm"]')
    return value


_Names = Annotated[tuple[str, ...], BeforeValidator(_names)]


class Choices(Section):
    """Lists restrict; None leaves all that the catalogues hold. variables: as given, read by narrow()."""

    families: _Names | None = None
    panel_materials: _Names | None = None
    hinge_kinds: _Names | None = None
    latch_kind: Name | None = None
    latch_kinds: _Names | None = None
    mount_kind: Name | None = None
    max_panels: PanelCount = MOST_PANELS
    variables: Annotated[dict[str, Any], BeforeValidator(_table)] = Field(default_factory=dict)


def check_names(choices: Choices, vocabulary: Vocabulary, shelf: Catalogue) -> list[Fault]:
    """Names that no catalogue and no family knows."""
    faults: list[Fault] = []

    def one(name: str | None) -> tuple[str, ...]:
        return () if name is None else (name,)

    for field, names, known in (
        ("families", choices.families, vocabulary.families),
        ("panel_materials", choices.panel_materials, shelf.named_materials),
        ("latch_kind", one(choices.latch_kind), shelf.of_role("latch")),
        ("mount_kind", one(choices.mount_kind), shelf.of_role("mount")),
        ("hinge_kinds", choices.hinge_kinds, shelf.of_role("hinge")),
        ("latch_kinds", choices.latch_kinds, shelf.of_role("latch")),
    ):
        for i, name in enumerate(names or ()):
            if name not in known:
                words = f"is not known.{nearest(name, known)} Allowed: {', '.join(known)}"
                where = f"choices.{field}" if field.endswith("_kind") else f"choices.{field}[{i}]"
                faults.append(fault(where, words, name))
    if choices.latch_kind is not None and choices.latch_kinds is not None:
        faults.append(fault("choices.latch_kinds", "names the kinds to compare; leave choices.latch_kind out"))
    return faults


def flat(variables: Mapping[str, Any]) -> dict[str, Any]:
    """Variable names joined by dots: a bare key build.thickness in TOML is a table in a table."""
    found: dict[str, Any] = {}
    for key, value in variables.items():
        if isinstance(value, dict) and value:
            found.update({f"{key}.{inner}": v for inner, v in value.items()})
        else:
            found[key] = value
    return found


def narrow(variables: Mapping[str, Any], vocabulary: Vocabulary, shelf: Catalogue) -> tuple[Pins, list[Fault]]:
    """What is left of each variable named, SI, and the faults. Families' and build variables alike."""
    found: Pins = {}
    faults: list[Fault] = []
    for name, value in flat(variables).items():
        field = f"choices.variables.{given_name(name)}"
        rule = _rule(name, vocabulary, shelf)
        if rule is None:
            words = f"is not a variable of a family or of the build.{nearest(name, vocabulary.variables)}"
            faults.append(fault(field, f"{words} Allowed: {_some(vocabulary.variables)}", value))
            continue
        try:
            found[name] = _options(value, rule) if rule.kind == "choice" else _range(value, rule)
        except QuantityError as error:
            faults.append(fault(field, str(error), value))
    return found, faults


def _rule(name: str, vocabulary: Vocabulary, shelf: Catalogue) -> Allowed | None:
    """The rule of a variable; material and hinge take their options from the problem's catalogue."""
    rule = vocabulary.variables.get(name)
    if rule is not None and name == "build.material":
        return replace(rule, options=shelf.named_materials)
    if rule is not None and name == "build.hinge":
        return replace(rule, options=shelf.of_role("hinge"))
    return rule


def _some(names: Iterable[str]) -> str:
    """Up to twelve names, and how many more."""
    all_names = sorted(names)
    more = f" and {len(all_names) - 12} more" if len(all_names) > 12 else ""
    return ", ".join(all_names[:12]) + more


def _options(value: Any, known: Allowed) -> Narrowed:
    given = value if isinstance(value, list) else [value]
    wanted = f"one or more of {', '.join(known.options)}" if known.options else "text, or a list of texts"
    if not given or not all(isinstance(v, str) for v in given) or len(set(given)) != len(given):
        raise QuantityError(f"must be {wanted}")
    for one in given:
        if known.options and one not in known.options:
            raise QuantityError(f"must be {wanted}.{nearest(one, known.options)}")
    return Narrowed(options=tuple(given))


def _range(value: Any, known: Allowed) -> Narrowed:
    ends = value if isinstance(value, list) else [value, value]
    bounds = f"from {show(known.low, known.unit)} to {show(known.high, known.unit)}"
    what = "a whole number" if known.kind == "count" else allowed(known.unit)
    wanted = f"must be {what}, or [least, most] of it, {bounds}"
    try:
        low, high = (to_si(end, known.unit) for end in ends) if len(ends) == 2 else (1.0, 0.0)
    except QuantityError:
        raise QuantityError(wanted) from None
    if not known.low <= low <= high <= known.high:
        raise QuantityError(wanted)
    if known.kind == "count" and any(not isinstance(end, int) for end in ends):
        raise QuantityError(wanted)
    return Narrowed(low=low, high=high)
