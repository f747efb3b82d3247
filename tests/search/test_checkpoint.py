import json
import multiprocessing
import pickle
from pathlib import Path

import pytest

from synth.core.errors import RunFolderError
from synth.search import checkpoint
from synth.search.pool import InProcess
from synth.search.run import advance
from tests.search.runs import new, run, told
from tests.search.toys import Toy, ToyEvaluator, work

TOY = Toy()
ABOUT = {"problem": "abc", "program": "0.1.0"}


def half_way(tmp_path: Path) -> Path:
    state = new(TOY, 150)
    with InProcess(work, TOY) as pool:
        for _ in range(8):
            advance(state, ToyEvaluator(TOY), pool)
    checkpoint.save(tmp_path / "state.bin", state, ABOUT)
    return tmp_path / "state.bin"


def test_a_saved_state_goes_on_to_the_same_front(tmp_path: Path) -> None:
    path = half_way(tmp_path)
    state = checkpoint.load(path, ABOUT)
    assert state.rounds == 8
    assert told(run(TOY, state)) == told(run(TOY, new(TOY, 150)))
    assert [p.name for p in tmp_path.iterdir()] == ["state.bin"]


def test_damage_and_strangers_are_refused_before_anything_is_read(tmp_path: Path) -> None:
    path = half_way(tmp_path)
    good = path.read_bytes()

    def refused(content: bytes, word: str, about: dict[str, str] = ABOUT) -> None:
        path.write_bytes(content)
        with pytest.raises(RunFolderError, match=word):
            checkpoint.load(path, about)

    refused(good[:-1], "damaged")
    refused(good[:-20] + b"x" + good[-19:], "damaged")
    refused(good[:30], "damaged")
    refused(b"", "not a saved state")
    refused(pickle.dumps({"a": 1}), "not a saved state")
    refused(good, "problem abc .now def.", {**ABOUT, "problem": "def"})
    magic, header, body = good.split(b"\n", 2)
    told_header = json.loads(header)
    told_header["versions"]["pymoo"] = "0.0.1"
    refused(b"\n".join([magic, json.dumps(told_header).encode(), body]), "pymoo 0.0.1")
    path.unlink()
    with pytest.raises(RunFolderError, match="no saved state"):
        checkpoint.load(path, ABOUT)


def hold(path: str, held: "multiprocessing.synchronize.Event", done: "multiprocessing.synchronize.Event") -> None:
    with checkpoint.alone(Path(path)):
        held.set()
        done.wait(30)


def test_a_second_process_is_refused_and_a_killed_one_lets_go(tmp_path: Path) -> None:
    lock = tmp_path / "run.lock"
    context = multiprocessing.get_context("spawn")
    held, done = context.Event(), context.Event()
    other = context.Process(target=hold, args=(str(lock), held, done))
    other.start()
    assert held.wait(30)
    with pytest.raises(RunFolderError, match=f"another process .pid {other.pid}."), checkpoint.alone(lock):
        pass
    other.kill()
    other.join()
    with checkpoint.alone(lock), pytest.raises(RunFolderError, match="working on this run"), checkpoint.alone(lock):
        pass
    with checkpoint.alone(lock):
        pass
