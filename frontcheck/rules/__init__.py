"""Rule sets: every number taken from a published text, with its source and how sure it is."""
