"""One record, every check that its contract lets an outsider make."""

from collections.abc import Mapping
from typing import Any

from synth.recheck.amounts import check_counts, check_layout, check_stowed
from synth.recheck.asked import Asked
from synth.recheck.clearance import check_clearance
from synth.recheck.drive import check_drive
from synth.recheck.finding import Finding, Notes
from synth.recheck.freedoms import check_freedoms
from synth.recheck.judgement import check_network, check_requirements, check_sums, check_verification
from synth.recheck.launch import check_launch
from synth.recheck.mass import check_mass
from synth.recheck.modes import check_modes
from synth.recheck.motion import check_path
from synth.recheck.room import check_swept, check_walls
from synth.recheck.shape import well_formed


def recheck_record(record: Mapping[str, Any], asked: Asked | None = None, *, network: bool = True) -> list[Finding]:
    """Findings of one candidate record; an empty list where all is as it must be.

    asked: what the problem file says; without it, growth, collecting area, gaps, keep-outs, limits and the network
    are left out. network: whether to solve the deployed network in full (the greatest part of the time).
    A fault in the shape of the record ends the check, one in its outlines or its motion leaves out what rests on them.
    """
    name = record.get("id")
    notes = Notes(name if isinstance(name, str) else "record")
    if not well_formed(record, notes):
        return notes.found
    drawn = check_layout(record, asked, notes)
    moves = check_path(record, notes)
    check_mass(record, asked, notes)
    check_requirements(record, asked, notes)
    check_verification(record, notes)
    check_sums(record, notes)
    if drawn:
        check_stowed(record, asked, notes)
        check_counts(record, asked, notes)
        check_launch(record, notes)
        check_drive(record, notes)
        check_modes(record, notes)
        if moves:
            check_freedoms(record, notes)
            check_swept(record, notes)
            check_walls(record, asked.rooms.get(record["envelope"]) if asked else None, notes)
            check_clearance(record, asked, notes)
        if network and asked is not None:
            check_network(record, asked, notes)
    return notes.found
