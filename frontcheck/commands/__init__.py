"""The commands of the command line, one module a subject."""
