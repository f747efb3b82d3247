"""Figures for monitoring, in the text format that Prometheus reads (version 0.0.4)."""

import os
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from synth.service.jobs import Jobs

_STARTED = time.time()


def exposition(jobs: "Jobs") -> str:
    """The text. Metrics: jobs by state, processes under way, oldest waiting job, free disk, uptime, memory."""
    counts = jobs.counts()
    lines = ["# HELP stowfront_jobs Jobs by state.", "# TYPE stowfront_jobs gauge"]
    lines += [f'stowfront_jobs{{state="{s}"}} {n}' for s, n in counts.items()]
    disk = os.statvfs(jobs.settings.data)
    plain = (
        ("stowfront_processes", "Job processes under way.", jobs.under_way()),
        ("stowfront_data_free_bytes", "Room left on the disk of the data folder.", disk.f_bavail * disk.f_frsize),
        ("stowfront_uptime_seconds", "Seconds since the service started.", round(time.time() - _STARTED, 3)),
        ("stowfront_resident_bytes", "Memory of the service's own process.", _resident()),
    )
    for name, text, value in plain:
        lines += [f"# HELP {name} {text}", f"# TYPE {name} gauge", f"{name} {value}"]
    lines += ["# HELP stowfront_info Version of the program.", "# TYPE stowfront_info gauge"]
    lines.append(f'stowfront_info{{version="{jobs.engine.version}"}} 1')
    return "\n".join(lines) + "\n"


def _resident() -> int:
    try:
        with open("/proc/self/statm", encoding="ascii") as told:
            return int(told.read().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, IndexError):  # not on this system
        return 0
