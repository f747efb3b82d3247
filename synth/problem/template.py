"""The commented problem file that `stowfront new` writes."""

_TEMPLATE = """\
# A problem for stowfront. Quantities may carry units ("850 mm", "5 um", "2 K"); a bare number is SI.
# `stowfront check FILE` tells every fault and what it understood; `stowfront catalogue` tells what may be chosen.

schema = "problem/1"
title = "My folding aperture"

[aperture]
clear_diameter = "600 mm"              # required: circle whose light is collected, centred on the optical axis
min_collecting_area = "0.22 m^2"       # receiving faces inside it, gaps and shadows taken off; not asked if left out
optic = "reflective"                   # "reflective" (default) or "transmissive" (solid sheets that transmit)
wavelength = "1064 nm"                 # optional
focal_ratio = 2.5                      # focal length over clear diameter; needed for wavefront and blur
field_of_view = "400 urad"             # optional: full angle of the receiver, judges blur
min_panel_width = "40 mm"              # least short side of a panel; not asked if left out
# max_panel_length = "700 mm"          # greatest long side, the largest blank; not asked if left out

[[envelope]]                           # required: one or more, each gets a front of its own
name = "locker"
size = ["450 mm", "330 mm", "220 mm"]  # a box; or: diameter = "...", height = "..."; or: preset = "cubesat_12u"
clearance = "3 mm"                     # kept free inside every wall; default 0

# [[envelope]]
# name = "bay"
# preset = "cubesat_12u"               # `stowfront catalogue envelopes` lists them

[mass]
limit = "8 kg"                         # required: holds for the mass with growth
growth_allowance = 0.20                # added to the basic mass; default 0.2
# maturity = "layout"                  # instead of it: growth by class of part at this maturity of the design

[accuracy]                             # limits left out are not asked
surface_rms_limit = "15 um"            # deployed, best-fit plane removed
# in_plane_rms_limit = "50 um"
# blur_limit = "100 urad"              # needs aperture.focal_ratio
refocus = true                         # true: the best-fit paraboloid is removed too; default false
# common_cause = "edge"                # misfits that are one draw: "none" (default), "edge", "kind" (all hinges)

[environment]
bulk_temperature_change = "20 K"       # default 0
through_thickness_difference = "1 K"   # front face warmer; default 0
# heat_flux = "50 W/m^2"               # instead of it: enters the front, leaves the back
# heat_loss = "5 W/m^2/K"              # instead of bulk_temperature_change: heat_flux over it is the bulk change
# moisture_strain = -2e-5              # free growth of composites by moisture, less than zero where they dry
# hinge_creep = "10 urad"              # angle that each hinge edge keeps towards its fold after storage; default 0
gravity_offload = 0.98                 # share of the weight carried in the ground test; default 1

[structure]                            # limits left out are not asked
deployed_first_mode_min = "2 Hz"
stowed_first_mode_min = "80 Hz"
launch_load_g = 15.0                   # quasi-static, in standard gravities
# launch_contact_limit = 0.5           # share of panel_gap that deflection under it may close; not asked if left out
# torque_ratio_min = 1.0               # least torque margin + 1 of both standard forms; not asked if left out
panel_gap = "0.5 mm"                   # stowed, face to face; default 0.5 mm
edge_gap = "1 mm"                      # deployed, between outlines; default 1 mm

[choices]                              # every list is optional; default: all that the catalogues hold
# families = ["accordion", "segment_stack"]
# panel_materials = ["cfrp_qi_m55j", "al_6061_t6"]
# hinge_kinds = ["pin_bearing", "tape_becu"]
# latch_kinds = ["magnet_vee", "hook_spring"]  # `stowfront catalogue latches`; several are compared; default the first
max_panels = 37                        # default 61
# [choices.variables]                  # pin (one value) or narrow ([least, most]) any variable by name
# "build.thickness" = ["3 mm", "12 mm"]

# [[catalogue.joint]]                  # your own hinge, latch or mount, or other values of one: docs/catalogues.md
# id = "pin_bearing"                   # an id of the catalogue is overridden, a new one is added (like = "pin_bearing")
# [catalogue.joint.values]
# stop_repeatability_m = { value = "0.4 um", source = "20 closings of the prototype" }

# [[keep_out]]                         # boxes fixed to the root panel that nothing may enter at any time
# name = "bus"                         # deployed frame: z = 0 is the receiving face, +z leaves it
# min = ["-100 mm", "-100 mm", "-400 mm"]
# max = ["100 mm", "100 mm", "-60 mm"]

[search]
# two to five of stowed_volume, longest_stowed_side, mass, surface_rms, in_plane_rms, blur, collecting_area,
# first_mode, part_count, distinct_parts
objectives = ["stowed_volume", "mass", "surface_rms"]
evaluations = 4000                     # for each envelope; default 20000
seed = 1                               # default 1
# goals = { mass = "8 kg" }            # focuses the search on what is beyond the goal in that objective
# stall = { gain = 0.001, evaluations = 2000 }  # an envelope whose hypervolume rose by no more gets no more candidates
# time_limit = "10 min"                # for search and verification; such a run cannot be repeated byte for byte
"""


def template() -> str:
    """The text: a valid problem in which every field of the format stands, the optional ones as comments."""
    return _TEMPLATE
