"""The candidate record: everything that an outsider needs to check one candidate without this program."""

from synth.record.candidate import Frames, Identity, Judgement, Labels, StowedPose, candidate_record
from synth.record.file import read_record, record_text, tidy, write_record
from synth.record.model import SCHEMA, Record

__all__ = [
    "SCHEMA",
    "Frames",
    "Identity",
    "Judgement",
    "Labels",
    "Record",
    "StowedPose",
    "candidate_record",
    "read_record",
    "record_text",
    "tidy",
    "write_record",
]
