"""Panels that membranes alone hold are a mechanism, by joints and by the network's stiffness."""

from dataclasses import replace

import numpy as np
import pytest

from synth.cell import cell_from, space
from synth.core.build import Build
from synth.core.geometry import Geometry
from synth.evaluate import lay_out
from synth.families.accordion import Accordion
from synth.fold.held import LOOSE, all_held
from synth.verify import PLIES, room_for_films, verify
from tests.fold import chains
from tests.fold.test_interference import verdict
from tests.samples import problem

NO_LATCH = np.zeros((0, 2), dtype=np.int64)


def test_every_panel_needs_a_way_of_true_joints_to_the_root() -> None:
    topology = chains.accordion(4).topology
    slack = np.array([[0.0, 0.0, 0.0], [0.0, 1e-3, 0.0], [1e-3, 0.0, 0.0]])
    assert all_held(topology, slack, NO_LATCH).tolist() == [True, False, False]
    # a latch from the root to the last panel holds what hangs on it, from the other end
    assert all_held(topology, slack, np.array([[0, 3]])).tolist() == [True, True, True]
    assert all_held(topology, slack, np.array([[2, 3]])).tolist() == [True, False, False]


def test_what_membranes_alone_hold_is_no_design_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """An accordion one of whose hinges becomes a membrane: refused by the layout, before the search counts it."""
    asked = problem()
    cell, row = cell_from(asked, "accordion", {"accordion.strips": 4, "build.thickness": 6e-3, "build.edge_gap": 12e-3,
                                               "build.hinge": "pin_bearing"})  # fmt: skip
    columns, plain = space(asked, cell).columns(row), Accordion.geometry
    assert lay_out(asked, cell, columns)[0].status.ok[0]

    def loosened(self: Accordion, build: Build) -> Geometry:
        found = plain(self, build)
        return replace(found, slack=np.where(np.arange(3) == 1, 2e-3, 0.0) * np.ones((build.rows, 1)))

    monkeypatch.setattr(Accordion, "geometry", loosened)
    status = lay_out(asked, cell, columns)[0].status
    assert not status.ok[0] and status.reason[0] == LOOSE and "mechanism" in LOOSE
    assert verify(asked, cell, row) == LOOSE


def test_solids_nearer_than_folded_films_are_refused() -> None:
    room = PLIES * 50e-6
    wide, narrow = (verdict(chains.accordion(3, gap=g)) for g in (1.1 * room, 0.9 * room))
    assert wide.clear and narrow.clear
    assert room_for_films(wide, 50e-6).clear and "0.2 mm" in room_for_films(wide, 50e-6).method
    found = room_for_films(narrow, 50e-6)
    assert not found.clear and "membranes" in found.reason
