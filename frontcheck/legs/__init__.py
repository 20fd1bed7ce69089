"""How a front meets an upright leg: contact order, uniform-foundation load, planar dynamics.

Stiffness is not known, so everything here compares shapes: two shapes may be ranked under the
same assumptions, and no value is to be held against a limit.
"""
