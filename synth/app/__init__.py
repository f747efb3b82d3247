"""The composition root: what a command, a script or a page asks for, put together from the parts below."""

from synth.app.checking import check_problem, write_template
from synth.app.comparing import SWEEP, compare_runs
from synth.app.looking import catalogue_of, recheck_run, show_run
from synth.app.running import resume_run, run_problem, try_candidate
from synth.app.seeding import seed
from synth.app.sweeping import resume_sweep, sweep_problem

__all__ = [
    "SWEEP",
    "catalogue_of",
    "check_problem",
    "compare_runs",
    "recheck_run",
    "resume_run",
    "resume_sweep",
    "run_problem",
    "seed",
    "show_run",
    "sweep_problem",
    "try_candidate",
    "write_template",
]
