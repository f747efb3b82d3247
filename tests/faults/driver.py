"""The command, saving its state ten times a second, so that kills meet checkpoints. Run as a process of its own.

STOWFRONT_DIE_AT=n kills it right before its n-th change of a file's name or removal of a file.
"""

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from synth import cli
from synth.app import running


def dies_at(most: int) -> None:
    """From the most-th rename or removal on this process is no more."""
    count = [0]

    def counted(change: Callable[..., Any]) -> Callable[..., Any]:
        def wrapped(*arguments: Any, **named: Any) -> Any:
            count[0] += 1
            if count[0] == most:
                os.kill(os.getpid(), signal.SIGKILL)
            return change(*arguments, **named)

        return wrapped

    for place, name in ((os, "replace"), (os, "unlink"), (Path, "unlink"), (os, "rmdir")):
        setattr(place, name, counted(getattr(place, name)))


if __name__ == "__main__":
    running.SAVE_EVERY_S = 0.1
    if "STOWFRONT_DIE_AT" in os.environ:
        dies_at(int(os.environ["STOWFRONT_DIE_AT"]))
    sys.argv[0] = "stowfront"
    cli.main()
