"""The one module that speaks to Ray: a private cluster or an existing one, chunks sent and answers taken."""

import atexit
import contextlib
import hashlib
import json
import logging
import os
import pickle
import secrets
import socket
import sys
import threading
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from synth.core.errors import InputError
from synth.search.pool import Work
from synth.search.processes import PoolFailed
from workers.tasks import Answered, Chunk, Refused, Reply, worked
from workers.versions import PACKAGES, differences, folders, installed

NAMESPACE = b"stowfront"
VERSIONS = b"versions"
ONE_THREAD = {k: "1" for k in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}
LOST_S = 8.0
"""A cluster that answers no connection for so long is lost."""
STORE_BYTES = 150_000_000
Handle = Any
"""Ray's reference to an answer that is under way."""


@dataclass(frozen=True)
class Lost:
    """A chunk without an answer. kind: its worker process died, its machine went away, it was cancelled, or Ray could
    not run it or bring its answer over."""

    kind: Literal["crash", "node", "cancelled", "fault"]
    why: str


def environment(private: bool) -> None:
    """Settles Ray's settings of this process before Ray is loaded: no telemetry, authentication stated explicitly.

    A private cluster gets a token of its own. Towards others the mode is taken from RAY_AUTH_MODE ("token" or
    "disabled"), or is "token" where RAY_AUTH_TOKEN or RAY_AUTH_TOKEN_PATH is set. Raises InputError where neither is.
    """
    os.environ["RAY_USAGE_STATS_ENABLED"] = "0"
    # nobody reads the events of single tasks; a vanished machine should be noticed in seconds
    for setting, value in {
        "RAY_task_events_report_interval_ms": "0",
        "RAY_health_check_initial_delay_ms": "5000",
        "RAY_health_check_period_ms": "2000",
        "RAY_health_check_timeout_ms": "5000",
        "RAY_health_check_failure_threshold": "3",
        "RAY_ACCEL_ENV_VAR_OVERRIDE_ON_ZERO": "0",
    }.items():
        os.environ.setdefault(setting, value)
    if "RAY_AUTH_MODE" in os.environ:
        return
    if not private and not {"RAY_AUTH_TOKEN", "RAY_AUTH_TOKEN_PATH"} & set(os.environ):
        raise InputError(
            "the cluster's authentication is not stated: set RAY_AUTH_TOKEN_PATH to a file that holds the same secret "
            "on every machine, or RAY_AUTH_MODE=disabled on a network where nobody else can reach the machines"
        )
    if private and not {"RAY_AUTH_TOKEN", "RAY_AUTH_TOKEN_PATH"} & set(os.environ):
        os.environ["RAY_AUTH_TOKEN"] = secrets.token_hex(32)
    os.environ["RAY_AUTH_MODE"] = "token"


def reachable(address: str, timeout_s: float = 2.0) -> bool:
    """Whether something listens at host:port. Raises InputError where the address is none."""
    host, sign, port = address.rpartition(":")
    if not sign or not host or not port.isdigit():
        raise InputError(f"address: must be HOST:PORT, such as 10.0.0.5:6379; got '{address}'")
    try:
        socket.create_connection((host, int(port)), timeout=timeout_s).close()
    except OSError:
        return False
    return True


def _directory(address: str) -> Any:
    """The cluster's store of names. Ray offers no public way to ask it before a machine has joined."""
    import ray._raylet

    kind: Any = getattr(ray._raylet, "GcsClient")  # noqa: B009  (a compiled name that its stubs leave out)
    return kind(address=address)


def published(address: str) -> dict[str, str]:
    """Versions that a cluster holds its machines to; empty where none were published yet."""
    try:
        text = _directory(address).internal_kv_get(VERSIONS, NAMESPACE, timeout=10)
    except Exception as fault:
        raise PoolFailed(f"the cluster at {address} does not let this machine in: {_first(fault)}") from None
    return dict(json.loads(text)) if text else {}


def publish(address: str) -> None:
    """Holds a cluster's machines to the versions of this one."""
    text = json.dumps(installed()).encode()
    _directory(address).internal_kv_put(VERSIONS, text, True, NAMESPACE, timeout=10)


@contextlib.contextmanager
def _for_children(values: dict[str, str]) -> Iterator[None]:
    """Environment variables that processes started meanwhile inherit."""
    before = {k: os.environ.get(k) for k in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for k, old in before.items():
            if old is None:
                os.environ.pop(k)
            else:
                os.environ[k] = old


class Link:
    """A connection to Ray. address None: a private cluster of this machine with `workers` CPUs.

    With an address the program's packages (and that of the work function) are sent along, and the cluster must hold
    the same versions; raises PoolFailed where it does not or cannot be reached.
    """

    def __init__(self, work: Work, problem: Any, address: str | None, workers: int) -> None:
        environment(private=address is None)
        import ray

        self._ray: Any = ray
        self._start(work, address, workers)
        self.address: str = address or ray.get_runtime_context().gcs_address
        self._last_sign = self._last_try = time.monotonic()
        if address is not None:
            self._agree()
        body = pickle.dumps((work, problem), protocol=5)
        self.cargo = hashlib.sha256(body).hexdigest()
        self._cargo_ref = ray.put(body)
        self._remote = ray.remote(num_cpus=1, max_retries=0)(_noted)

    def _start(self, work: Work, address: str | None, workers: int) -> None:
        ray = self._ray
        quiet = {"log_to_driver": False, "logging_level": logging.CRITICAL}
        path = os.pathsep.join(p or os.getcwd() for p in sys.path)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if address is None:
                with _for_children({**ONE_THREAD, "PYTHONPATH": path}):
                    ray.init(
                        address="local",
                        num_cpus=workers,
                        include_dashboard=False,
                        object_store_memory=STORE_BYTES,
                        **quiet,
                    )
            else:
                if not reachable(address):
                    raise PoolFailed(f"nothing answers at {address}; is the cluster's head running there?")
                names = dict.fromkeys((*PACKAGES, work.__module__.partition(".")[0]))
                shipped = [str(p) for p in folders(tuple(names))]
                shipping = {"py_modules": shipped, "excludes": ["__pycache__"], "env_vars": ONE_THREAD}
                try:
                    ray.init(address=address, runtime_env=shipping, **quiet)
                except Exception as fault:
                    first = str(fault).strip().splitlines()[0] if str(fault).strip() else type(fault).__name__
                    raise PoolFailed(
                        f"cannot connect to the cluster at {address}: {first} (this machine must be part of it: "
                        "stowfront worker --join, with --cpus 0 if it shall not work)"
                    ) from None
        # Ray prints its own news to standard output, which is ours, and offers no way to turn that off
        sys.modules["ray._private.worker"].__dict__["print_to_stdstream"] = lambda *_, **__: None

    def _agree(self) -> None:
        there = published(self.address)
        differs = differences(installed(), there)
        if differs:
            self.close()
            raise PoolFailed(
                f"the cluster at {self.address} holds other versions: {differs}; "
                "make them equal, then start its head anew"
            )
        if not there:
            publish(self.address)

    # -- chunks

    def slots(self) -> int | None:
        """CPUs of the cluster at this moment: tasks that it works at once. None where it does not answer."""
        resources: dict[str, float] | None = self._asked(self._ray.cluster_resources, None)
        return None if resources is None else int(resources.get("CPU", 0.0))

    def send(self, chunk: Chunk) -> Handle:
        """Sends a chunk; its answer is under way."""
        return self._remote.remote(chunk, [self._cargo_ref])

    def ready(self, handles: Sequence[Handle], timeout_s: float) -> list[Handle]:
        """Those that have come to an end, after at most timeout_s."""
        if not handles:
            time.sleep(timeout_s)
            return []
        done, _ = self._ray.wait(list(handles), num_returns=1, timeout=timeout_s)
        if done and len(handles) > 1:
            done, _ = self._ray.wait(list(handles), num_returns=len(handles), timeout=0)
        return list(done)

    def take(self, handle: Handle) -> Reply | Lost:
        """The reply of a chunk that has come to an end, or how it was lost."""
        from ray import exceptions as faults

        try:
            return self._checked(self._ray.get(handle))
        except faults.TaskCancelledError:
            return Lost("cancelled", "cancelled")
        except (faults.NodeDiedError, faults.ObjectLostError, faults.LocalRayletDiedError) as fault:
            return Lost("node", _first(fault))
        except faults.OutOfMemoryError:
            return Lost("crash", "the worker was ended for the memory it took")
        except faults.WorkerCrashedError:
            return Lost("crash", "the worker process died")
        except Exception as fault:  # also: an answer that cannot be read
            cause = getattr(fault, "cause", None)
            return Lost("fault", _first(cause if isinstance(cause, Exception) else fault))

    @staticmethod
    def _checked(reply: Any) -> Reply | Lost:
        if isinstance(reply, Answered | Refused):
            return reply
        return Lost("crash", f"the worker answered with {type(reply).__name__} instead of scores")

    def cancel(self, handle: Handle) -> None:
        """Ends a chunk, and the worker process that has it."""
        with contextlib.suppress(Exception):
            self._ray.cancel(handle, force=True)

    def who(self, run: str, number: int) -> str | None:
        """Who began to work a chunk (pid@host), or None where nobody did yet."""
        from ray.experimental import internal_kv

        note: bytes | None = self._asked(
            lambda: internal_kv._internal_kv_get(_key(run, number), namespace=NAMESPACE), None
        )
        return note.decode() if note else None

    def forget(self, run: str) -> None:
        """Wipes the notes of who works what."""
        from ray.experimental import internal_kv

        self._asked(
            lambda: internal_kv._internal_kv_del(_key(run, None), del_by_prefix=True, namespace=NAMESPACE), None
        )

    def _asked(self, question: Callable[[], Any], otherwise: Any) -> Any:
        """What the cluster's head answers. Ray would wait a minute for one that is gone, and then end the process."""
        if not reachable(self.address, timeout_s=1.0):
            return otherwise
        try:
            return question()
        except Exception:  # whether the cluster is lost is judged by alive()
            return otherwise

    def alive(self) -> bool:
        """False once the cluster's head answered no connection for LOST_S. Asks once a second."""
        now = time.monotonic()
        if now - self._last_try >= 1.0:
            self._last_try = now
            if reachable(self.address, timeout_s=1.0):
                self._last_sign = now
        return now - self._last_sign < LOST_S

    def close(self) -> None:
        """Leaves the cluster; ends a private one. Never waits for a cluster that is lost."""
        lost = not reachable(self.address, timeout_s=1.0) if hasattr(self, "address") else False
        if lost:
            atexit.unregister(self._ray.shutdown)
        leaving = threading.Thread(target=self._ray.shutdown, daemon=True)
        leaving.start()
        leaving.join(2.0 if lost else 20.0)


def _key(run: str, number: int | None) -> bytes:
    return f"at/{run}/{'' if number is None else number}".encode()


def _noted(chunk: Chunk, cargo: list[Handle]) -> Reply:
    """What a Ray worker runs: a chunk, and a note of who works it."""
    import ray
    from ray.experimental import internal_kv

    def begin(who: str) -> None:
        internal_kv._internal_kv_put(_key(chunk.run, chunk.number), who.encode(), overwrite=True, namespace=NAMESPACE)

    return worked(chunk, lambda: bytes(ray.get(cargo[0])), begin)


def _first(fault: BaseException) -> str:
    lines = str(fault).strip().splitlines()
    sentence = lines[0].split(". ")[0] if lines else ""
    return f"{type(fault).__name__}: {sentence}" if sentence else type(fault).__name__


def token_hint() -> str:
    """How other machines must be set to be let in, in words."""
    if os.environ.get("RAY_AUTH_MODE") == "disabled":
        return "without authentication"
    where = os.environ.get("RAY_AUTH_TOKEN_PATH")
    return f"with the secret of {Path(where)}" if where else "with the secret of RAY_AUTH_TOKEN"
