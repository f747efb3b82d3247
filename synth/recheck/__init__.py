"""Verifies candidate records from disk, by code that shares nothing with what made them.

Nothing here imports any other part of the program: only numpy, scipy, shapely and the standard library, and only
what the record, the problem file and the run folder say. Where both sides agree, two roads led to the same number.
"""

from synth.recheck.asked import Asked
from synth.recheck.finding import Finding, Report
from synth.recheck.folder import recheck_folder
from synth.recheck.whole import recheck_record

__all__ = ["Asked", "Finding", "Report", "recheck_folder", "recheck_record"]
