"""Time to find stowed sizes; prints, never asserts times."""

import time
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.stow.sizes import stowed_size, stowed_sizes
from tests.fold import chains
from tests.stow.test_box import stowed_corners


@dataclass(frozen=True)
class Room:
    kind: str
    allowed: Floats


def test_time_of_a_batch_and_of_one_exact_answer() -> None:
    points = np.repeat(stowed_corners(chains.serial(19)), 256, axis=0)
    points = points + np.random.default_rng(0).normal(0.0, 1e-3, (256, 1, 3))
    rooms = [Room("box", np.array([0.6, 0.46, 0.3])), Room("box", np.array([0.3, 0.3, 0.3])), Room("round", np.ones(3))]
    for some, name in ((rooms[:2], "two boxes"), (rooms[2:], "one cylinder")):
        start = time.process_time()
        stowed_sizes(points, some)  # type: ignore[arg-type]
        each = (time.process_time() - start) / 256 * 1e6
        print(f"\nbatch of 256, {points.shape[1]} corners, {name}: {each:.0f} us each")
    for room in (rooms[0], rooms[2]):
        start = time.process_time()
        found = stowed_size(points[0], room)  # type: ignore[arg-type]
        print(f"exact, {room.kind}: {(time.process_time() - start) * 1e3:.1f} ms")
        assert found.fit > 0.0
