"""The page of checks: what the calculation was checked against, and how far off it was."""
