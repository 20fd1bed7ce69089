"""The study that tests of sweeps and of their outputs share: a lower lip moved about."""

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
