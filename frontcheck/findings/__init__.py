"""Where the shape is likely to load the leg or the head differently, as rules to check.

No finding predicts an injury; each says what the geometry is, what it is compared with,
who published that, and which test settles it.
"""
