"""A job's news: a file of JSON lines that one writer appends to, and streams that read it.

An event's id is its end in the file, so that a stream taken up again goes on exactly where it was, whoever restarted
in between, and a slow reader costs nothing but its own connection.
"""

import asyncio
import contextlib
import json
import os
import time
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

CHUNK = 1 << 16
POLL_S = 0.25
QUIET_S = 3.0
"""After so long without news a stream asks whether the job is over."""


@dataclass(frozen=True)
class Event:
    """One piece of news. id: where it ends in the file; kind: "state", "process" or "progress"."""

    id: int
    kind: str
    data: dict[str, Any]


def append(file: Path, kind: str, data: dict[str, Any]) -> None:
    """Appends one piece of news. A line that a killed process left half written is ended first. A full disk loses
    news, never the run."""
    line = json.dumps({"event": kind, "at": round(time.time(), 3), **data}, allow_nan=False).encode()
    with contextlib.suppress(OSError), open(file, "ab+") as out:
        if out.tell():
            out.seek(-1, os.SEEK_END)
            if out.read(1) != b"\n":
                line = b"\n" + line
        out.write(line + b"\n")


def read(file: Path, after: int) -> list[Event]:
    """Whole lines after a place, at most about CHUNK bytes of them. Lines that are not whole JSON are passed over."""
    try:
        with open(file, "rb") as news:
            if after > 0:
                news.seek(after - 1)
                if news.read(1) != b"\n":  # a place inside a line: from the next line on
                    after += len(news.readline())
            found = news.read(CHUNK)
            while found and b"\n" not in found:
                more = news.read(CHUNK)
                if not more:
                    break
                found += more
    except OSError:
        return []
    events, place = [], after
    for line in found[: found.rfind(b"\n") + 1].splitlines(keepends=True):
        place += len(line)
        try:
            told = json.loads(line)
            events.append(Event(place, str(told.pop("event")), told))
        except (ValueError, KeyError, AttributeError):
            continue
    return events


def latest(file: Path, kind: str) -> dict[str, Any] | None:
    """The last piece of news of a kind, from the last CHUNK bytes of the file."""
    mark = f'{{"event": "{kind}"'.encode()
    try:
        with open(file, "rb") as news:
            size = news.seek(0, os.SEEK_END)
            news.seek(max(size - CHUNK, 0))
            lines = news.read(CHUNK).split(b"\n")
    except OSError:
        return None
    for line in reversed(lines[:-1]):  # the last one has no end yet
        if line.startswith(mark):
            with contextlib.suppress(ValueError):
                told: dict[str, Any] = json.loads(line)
                told.pop("event")
                return told
    return None


async def follow(file: Path, over: Callable[[], bool], after: int = 0) -> AsyncIterator[Event]:
    """News after a place as they come, until over() says that there will be none. over() may ask a database: it is
    called in a thread, and only where nothing new has come for a while."""
    place, heard = after, -QUIET_S
    while True:
        events = read(file, place)
        for event in events:
            yield event
            place = event.id
        now = time.monotonic()
        if events:
            ended = events[-1].kind == "state" and events[-1].data.get("over")
            heard = -QUIET_S if ended else now
            continue
        if now - heard >= QUIET_S:
            if await asyncio.to_thread(over) and not read(file, place):
                return
            heard = now
        await asyncio.sleep(POLL_S)
