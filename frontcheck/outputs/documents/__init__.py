"""Documents, tables and drawings, and the folders they are written to."""
