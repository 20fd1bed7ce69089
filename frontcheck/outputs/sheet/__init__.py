"""The measuring sheet to print."""
