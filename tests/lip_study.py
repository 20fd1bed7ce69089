"""Studies that tests of sweeps and of their outputs share."""

NOSE_STUDY = """
wad_mm = [1000, 1500]
[nose]
stations_mm = [0, 500]
[vary]
lower_lip_height_mm = { low = 300, high = 420 }
recess_depth_mm = { low = 0, high = 40 }
lead_mm = { low = 60, high = 140 }
[sampling]
variants = 1500
"""
"""Three dimensions of a nose."""
LIP_STUDY = """
name = "lip"
[nose]
[vary]
lower_lip_height_mm = { low = 300, high = 400 }
lower_lip_setback_mm = { low = 10, high = 60 }
[sampling]
variants = 512
[[limits]]
line = "LBRL_z_mm"
at_most_mm = 330
"""
"""A lower lip moved about."""
