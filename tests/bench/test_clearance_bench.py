"""Time to prove a whole path free of interference, one core; prints, never asserts times."""

import time

import numpy as np
import pytest

from synth.core.fittings import NO_JOINT, Fittings
from synth.fold.course import Course
from synth.fold.interference import prove_solids
from synth.fold.solids import solids_of
from tests.fold import chains

UNITS = 2


def leaves(laid: chains.Laid) -> Fittings:
    """Two units a hinge, on each leaf a base beside the panel and a post up to the hinge line: 8 fittings a hinge."""
    t, half = float(laid.geometry.thickness[0]), 0.0045
    plans, low, high, panel, hinge = [], [], [], [], []
    for h, (i, j) in enumerate(laid.topology.hinges):
        a, b = laid.geometry.axis[0, h]
        along = (b - a)[:2] / np.linalg.norm((b - a)[:2])
        across = np.array([-along[1], along[0]])
        for share in (0.2, 0.8):
            at = (a + share * (b - a))[:2]
            for side, p in ((-1.0, i), (1.0, j)):
                for reach, (z0, z1) in ((half, (-t, 0.0)), (0.8 * half, sorted((-t / 2, float(a[2]))))):
                    w, o = 0.008 * along, side * reach * across
                    ring = [at - w, at + w, at + w + o, at - w + o]
                    plans.append(ring if side > 0 else ring[::-1])
                    low.append(z0)
                    high.append(z1)
                    panel.append(int(p))
                    hinge.append(h)
    none = np.full(len(panel), NO_JOINT)
    z = np.array([low]), np.array([high])
    return Fittings(np.array(panel), np.array(hinge), none, np.array([plans]), *z, np.zeros((1, len(low))))


CASES = {
    "accordion of 20, all at once": lambda: chains.accordion(20, width=0.1, edge_gap=0.01),
    "accordion of 20, one after the other": lambda: chains.accordion(20, width=0.1, edge_gap=0.01, staged=True),
    "accordion of 60, all at once": lambda: chains.accordion(60, width=0.05, edge_gap=0.01),
    "accordion of 60, one after the other": lambda: chains.accordion(60, width=0.05, edge_gap=0.01, staged=True),
    "star of 7": lambda: chains.star(edge_gap=0.01),
}


@pytest.mark.parametrize("name", CASES)
def test_time_of_a_proof(name: str) -> None:
    laid = CASES[name]()
    course = Course.of(laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0])
    solids = solids_of(laid.topology, laid.geometry, leaves(laid), np.zeros((0, 2, 3)))
    times = []
    for _ in range(3):
        start = time.process_time()
        found = prove_solids(course, solids)
        times.append(time.process_time() - start)
    verdict = "clear" if found.clear else found.reason
    print(f"\n{name}: {solids.count} solids, {found.tests} tests, {min(times):.3f} s of one core, {verdict}")
    assert found.tests > 0
