"""What the commands that talk to a service do: answers as documents and as text."""

import os
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from synth.core.errors import InputError, writing
from synth.export.engineering import table
from synth.service.client import ADDRESS, OVER, Client


def client(url: str | None, token_file: Path | None) -> Client:
    """The client that options and environment ask for: STOWFRONT_URL, STOWFRONT_TOKEN."""
    token = os.environ.get("STOWFRONT_TOKEN") or None
    if token_file is not None:
        try:
            token = token_file.read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError):
            raise InputError(f"token-file: {token_file}: cannot be read as text") from None
    return Client(url or os.environ.get("STOWFRONT_URL") or ADDRESS, token)


def job_text(job: Mapping[str, Any]) -> str:
    """One job in a few lines."""
    lines = [f"{job['id']}  {_standing(job)}  {job['title']}"]
    lines.append(f"  {job['evaluations']} candidates for each envelope, seed {job['seed']}, submitted {job['created']}")
    if job["message"]:
        lines.append(f"  {job['message']}")
    return "\n".join(lines)


def jobs_text(jobs: list[dict[str, Any]]) -> str:
    """A line a job."""
    if not jobs:
        return "No jobs."
    rows = [[j["id"], _standing(j), j["created"][:16].replace("T", " "), str(j["evaluations"]), j["title"][:60]]
            for j in jobs]  # fmt: skip
    return table(["job", "state", "submitted (UTC)", "evaluations", "title"], rows, left=3)


def _standing(job: Mapping[str, Any]) -> str:
    return "stopping" if job.get("stopping") else str(job["state"])


def news_line(kind: str, data: Mapping[str, Any]) -> str:
    """One piece of news in one line, or an empty text where it says nothing to a person."""
    if kind == "state":
        return str(data["state"]) + (f": {data['message']}" if data.get("message") else "")
    if kind != "progress":
        return ""
    left = "" if data["seconds_left"] is None else f", about {data['seconds_left']:.0f} s left"
    told = [
        f"{e['name']} {e['evaluations']}/{e['budget']}, {e['feasible']} feasible, hypervolume {e['hypervolume']:.3f}"
        for e in data["envelopes"]
        if e["budget"]
    ]
    doing = "searching" if data["phase"] == "search" else f"verifying the fronts, {data.get('to_verify', 0)} to go,"
    return f"{doing} {data['seconds']:.0f} s{left} | " + " | ".join(told)


def watched(service: Client, id: str, say: Callable[[str], None]) -> dict[str, Any]:
    """Tells the news of a job, at most one line in two seconds, until it is over; returns it."""
    last = -10.0
    for news in service.events(id):
        line = news_line(news.kind, news.data)
        now = time.monotonic()
        if line and (news.kind == "state" or now - last >= 2.0):
            last = now
            say(line)
    return service.job(id)


def cancelled(service: Client, id: str, wait: bool) -> dict[str, Any]:
    """Stops a job; waits until it has stopped."""
    job = service.cancel(id)
    return service.wait(id) if wait and job["state"] not in OVER else job


def fetched(service: Client, id: str, candidate: str | None, out: Path | None) -> tuple[dict[str, Any], str]:
    """The run folder of a job, or the seed package of one candidate, written here."""
    if candidate is not None:
        file = out or Path(f"seed-{candidate}.zip")
        if file.exists():
            raise InputError(f"{file}: exists already; choose another --out")
        content = service.file(id, f"candidates/{candidate}/seed.zip")
        with writing(file):
            try:
                file.write_bytes(content)
            except OSError:
                file.unlink(missing_ok=True)
                raise
        return {"job": id, "candidate": candidate, "file": str(file), "bytes": len(content)}, f"Wrote {file}"
    folder = out or Path("results") / id
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(f"{folder}: is not an empty folder; choose another --out")
    made = service.fetch(id, folder)
    document = {"job": id, "folder": str(folder), "files": [str(p.relative_to(folder)) for p in made]}
    return document, f"Run folder: {folder} ({len(made)} files)\nNext: stowfront show {folder}"
