"""Which alloy melts when, did the run keep to its profile, must that part be baked, does the bench lead static off?"""

from knowngood.handbook.rework.alloys import alloy, mixed_alloys, tip
from knowngood.handbook.rework.board import acceptance_class, coating, flux, land_repair, residue
from knowngood.handbook.rework.esd import esd_check, esd_pulse, esd_sensitivity, strap_current
from knowngood.handbook.rework.moisture import bake, floor_life
from knowngood.handbook.rework.profile import body_peak, profile, profile_limits, ramp_time

__all__ = [
    "acceptance_class",
    "alloy",
    "bake",
    "body_peak",
    "coating",
    "esd_check",
    "esd_pulse",
    "esd_sensitivity",
    "floor_life",
    "flux",
    "land_repair",
    "mixed_alloys",
    "profile",
    "profile_limits",
    "ramp_time",
    "residue",
    "strap_current",
    "tip",
]
