"""How sure the lines are: draws of what the same measurement might have read."""
