"""What pins of the problem file do to the cells a search starts from, and to a candidate given by hand."""

import numpy as np
import pytest

from synth.cell import Cell, cell_from, first_cells, latch_of, relatives, space
from synth.core.errors import InputError
from synth.evaluate import lay_out
from synth.families import families
from synth.problem import Problem
from tests.near import near
from tests.samples import family_names, problem


def pinned(most: int = 61, **variables: object) -> Problem:
    named = {k.replace("__", "."): v for k, v in variables.items()}
    return problem(choices={"max_panels": most, "variables": named})


def fixed(cells: list[Cell], name: str) -> set[object]:
    return {dict(c.fixed)[name] for c in cells}


@pytest.mark.parametrize("family", family_names())
def test_starting_cells_are_distinct_and_no_larger_than_asked(family: str) -> None:
    kind = families()[family]
    least = min(kind.panel_count(c) for c in kind.first_cells(1000))
    for most in (5, 12, 37):
        asked = pinned(most)
        found = first_cells(asked, family)
        assert len(set(found)) == len(found) and bool(found) == (least <= most)
        sizes = [kind.panel_count(dict(c.fixed)) for c in found]
        assert max(sizes, default=0) <= most
        assert len({repr(c) for c in found}) == len(found), "the search tells cells apart by their repr"


def test_a_pinned_count_that_no_starting_cell_has_is_searched_all_the_same() -> None:
    assert 7 not in fixed(first_cells(problem(), "accordion"), "strips")
    assert fixed(first_cells(pinned(accordion__strips=7), "accordion"), "strips") == {7}
    assert fixed(first_cells(pinned(accordion__strips=[13, 14]), "accordion"), "strips") == {13, 14}
    assert first_cells(pinned(6, accordion__strips=7), "accordion") == []
    only = "t:0.0.0.0.0.5"
    found = first_cells(pinned(segment_stack__tree=only), "segment_stack")
    assert found and fixed(found, "tree") == {only}


def test_relatives_stay_inside_the_pins() -> None:
    asked = pinned(12, accordion__strips=[4, 6], accordion__root="end", build__latches="none", build__pairs=1)
    seen = first_cells(asked, "accordion")
    for cell in seen:
        seen += [c for c in relatives(asked, cell, np.random.default_rng(1)) if c not in seen]
    assert fixed(seen, "strips") == {4, 5, 6} and fixed(seen, "root") == {"end"}
    assert {dict(c.build)["latches"] for c in seen} == {"none"}


@pytest.mark.parametrize("family", family_names())
def test_latches_pinned_to_all_rule_no_family_out(family: str) -> None:
    """A family without free edges has none left unlatched."""
    found = first_cells(pinned(build__latches="all"), family)
    assert found and {dict(c.build)["latches"] for c in found} == {"all"}


def test_several_kinds_of_latches_are_cells_beside_each_other() -> None:
    """Two kinds offered: both are started from and reached from each other, and each brings its own hardware."""
    asked = problem(choices={"latch_kinds": ["hook_spring", "magnet_vee"], "families": ["map_fold"]})
    cells = first_cells(asked, "map_fold")
    kinds = {str(dict(c.build)["latches"]) for c in cells}
    assert kinds == {"none", "all", "magnet_vee"}
    bare = next(c for c in cells if dict(c.build)["latches"] == "none")
    assert {str(dict(c.build)["latches"]) for c in relatives(asked, bare, np.random.default_rng(0))} == kinds
    by_hand = {k: cell_from(asked, "map_fold", {"latches": k, "thickness": "8 mm"}) for k in ("all", "magnet_vee")}
    masses = []
    for name, kind in (("all", "hook_spring"), ("magnet_vee", "magnet_vee")):
        cell, row = by_hand[name]
        latch = latch_of(asked, cell)
        assert latch is not None and latch.name == kind
        design = lay_out(asked, cell, space(asked, cell).columns(row))[0]
        there = design.joint_masses.latch[0] > 0.0
        assert there.any()
        near(design.joint_masses.latch[0][there], np.full(there.sum(), latch.mass), rel=1e-12)
        masses.append(latch.mass)
    assert masses[0] != masses[1]


def test_one_kind_of_latch_or_several() -> None:
    with pytest.raises(InputError, match="names the kinds to compare"):
        problem(choices={"latch_kinds": ["hook_spring"], "latch_kind": "hook_spring"})


@pytest.mark.parametrize("family", family_names())
def test_coordinates_decode_to_what_was_set(family: str) -> None:
    asked = problem()
    kind = families()[family]
    values = {f"{family}.{k}": 0.3 * v.low + 0.7 * v.high for k, v in kind.reals().items()}
    values["build.thickness"] = 5e-3
    cell, row = cell_from(asked, family, {**values, "material": "cfrp_qi_m55j", "section": "sandwich"})
    genes = space(asked, cell).genes(row[0])
    for name, value in values.items():
        near(genes[name], value, rel=1e-9, why="there and back")
    assert genes["build.material"] == "cfrp_qi_m55j" and genes["build.section"] == "sandwich"
    assert row.shape == (1, space(asked, cell).size) and (row >= 0.0).all() and (row <= 1.0).all()


def test_a_candidate_by_hand_keeps_to_the_problems_choices() -> None:
    cell, _ = cell_from(pinned(accordion__strips=7, build__latches="all"), "accordion", {})
    assert dict(cell.fixed)["strips"] == 7 and dict(cell.build)["latches"] == "all"
    for asked, values, wanted in (
        (pinned(6), {"strips": 7}, "7 panels, choices.max_panels is 6"),
        (pinned(accordion__strips=[3, 5]), {"strips": 7}, "accordion.strips"),
        (pinned(1), {}, "no accordion obeys choices.max_panels"),
        (pinned(build__thickness=["4 mm", "6 mm"]), {"thickness": "7 mm"}, "must be 4 mm to 6 mm; got 7 mm"),
    ):
        with pytest.raises(InputError, match=wanted):
            cell_from(asked, "accordion", values)


def test_what_is_not_given_by_hand_goes_with_what_is() -> None:
    """Thirteen slats of six sides are more than one turn, which cannot open all at once: in turn, though not the first
    option of the family's starting cells."""
    asked = problem()
    plain, _ = cell_from(asked, "slat_roll", {})
    cell, _ = cell_from(asked, "slat_roll", {"slats": 13, "sides": 6})
    assert dict(plain.fixed)["deploy"] == "together" and dict(cell.fixed)["deploy"] == "in_turn"
    assert dict(cell.fixed)["slats"] == 13 and dict(cell.fixed)["sides"] == 6
    with pytest.raises(InputError, match=r"do not go together.* 'sides': 6, 'deploy': 'together'"):
        cell_from(asked, "slat_roll", {"slats": 13, "sides": 6, "deploy": "together"})


@pytest.mark.parametrize("family", family_names())
def test_values_at_their_bounds_come_back_from_a_record(family: str) -> None:
    """Records tell twelve digits, which may lie beyond a bound by half of the last."""
    asked, kind = problem(), families()[family]
    for end in ("low", "high"):
        values = {f"{family}.{k}": float(f"{getattr(v, end):.12g}") for k, v in kind.reals().items()}
        _, row = cell_from(asked, family, values)
        assert (row >= 0.0).all() and (row <= 1.0).all()
