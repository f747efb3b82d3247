"""What is asked: the problem file, its envelopes, requirements, objectives, catalogues, bounds before a search."""

from synth.problem.envelope import Envelope
from synth.problem.problem import Problem
from synth.problem.reading import from_mapping, load, loads
from synth.problem.vocabulary import Allowed, Narrowed, Vocabulary

__all__ = ["Allowed", "Envelope", "Narrowed", "Problem", "Vocabulary", "from_mapping", "load", "loads"]
