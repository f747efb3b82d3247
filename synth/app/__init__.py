"""The composition root: what a command, a script or a page asks for, put together from the parts below."""

from synth.app.checking import check_problem, write_template
from synth.app.looking import catalogue_of, recheck_run, show_run
from synth.app.running import resume_run, run_problem, try_candidate

__all__ = [
    "catalogue_of",
    "check_problem",
    "recheck_run",
    "resume_run",
    "run_problem",
    "show_run",
    "try_candidate",
    "write_template",
]
