"""A machine of a cluster: its head, or one that joins as a worker. Runs until told to stop, and leaves cleanly."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence

from synth.search.processes import PoolFailed
from workers.link import ONE_THREAD, environment, publish, published, reachable, token_hint
from workers.versions import differences, installed

Question = Callable[[], bool]
START_S = 60.0
LEAVE_S = 10.0


def head(address: str, cpus: int) -> None:
    """Starts the head of a cluster at HOST:PORT and stays until SIGINT or SIGTERM. cpus: tasks it works itself.

    Raises PoolFailed where it cannot start or ends by itself.
    """
    environment(private=False)
    if reachable(address):
        raise PoolFailed(f"something listens at {address} already")
    host, _, port = address.rpartition(":")
    with_head = ["--head", f"--node-ip-address={host}", f"--port={port}", "--include-dashboard=false"]
    node = _Node([*with_head, f"--num-cpus={cpus}"])
    try:
        node.wait_until(lambda: reachable(address), f"the head did not come up at {address}")
        publish(address)
        _say(f"Head of a cluster at {address}, {token_hint()}, {cpus} tasks of its own. Ctrl-C ends the cluster.")
        node.stay(lambda: True)
    finally:
        node.stop()
    _say("The cluster has ended.")


def join(address: str, cpus: int | None) -> None:
    """Joins the cluster at HOST:PORT with `cpus` tasks at once (default: one a core) and stays until SIGINT or SIGTERM.

    Raises PoolFailed where the cluster cannot be reached, holds other versions than this machine, or ends.
    """
    environment(private=False)
    if not reachable(address):
        raise PoolFailed(f"nothing answers at {address}; is the cluster's head running there?")
    differs = differences(installed(), published(address))
    if differs:
        raise PoolFailed(f"this machine does not match the cluster at {address}: {differs}; install the same versions")
    count = len(os.sched_getaffinity(0)) if cpus is None else cpus
    node = _Node([f"--address={address}", f"--num-cpus={count}"])
    try:
        _say(f"Joining the cluster at {address} with {count} tasks at once. Ctrl-C leaves it.")
        node.stay(lambda: reachable(address))
    finally:
        node.stop()
    _say("Left the cluster.")


class _Node:
    """`ray start --block` as a child that never outlives this process's wish. (`ray stop` would end every Ray process
    of the machine, other people's too.)"""

    def __init__(self, options: Sequence[str]) -> None:
        self._asked = threading.Event()
        self._before = [(s, signal.signal(s, lambda *_: self._asked.set())) for s in (signal.SIGINT, signal.SIGTERM)]
        command = [sys.executable, "-m", "ray.scripts.scripts", "start", "--block", "--disable-usage-stats", *options]
        self._process = subprocess.Popen(
            command,
            env={**os.environ, **ONE_THREAD},
            start_new_session=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._lines: list[str] = []
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._lines = [*self._lines, line.rstrip()][-20:]

    def wait_until(self, up: Question, otherwise: str) -> None:
        """Until it is up. Raises PoolFailed with what Ray said where it never is."""
        end = time.monotonic() + START_S
        while not up():
            if self._process.poll() is not None or time.monotonic() > end:
                raise PoolFailed(f"{otherwise}: {self._last()}")
            if self._asked.wait(0.2):
                return

    def stay(self, there: Question) -> None:
        """Until somebody asks to stop. Raises PoolFailed where the node ends by itself or its cluster is gone."""
        missing = 0
        while not self._asked.wait(1.0):
            if self._process.poll() is not None:
                raise PoolFailed(f"the node has ended: {self._last()}")
            missing = 0 if there() else missing + 1
            if missing >= 10:
                raise PoolFailed("the cluster does not answer any more")

    def stop(self) -> None:
        """Ends the node's processes and puts the signal handlers back."""
        self._process.terminate()
        try:
            self._process.wait(LEAVE_S)
        except subprocess.TimeoutExpired:
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait()
        for number, old in self._before:
            signal.signal(number, old)

    def _last(self) -> str:
        told = [line.strip() for line in self._lines if line.strip()]
        return told[-1] if told else "no word from Ray"


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
