"""The geometry annex of a design review, as PDF and as one page."""
