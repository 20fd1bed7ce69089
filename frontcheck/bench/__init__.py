"""The page to try shapes on: a shape and what was moved on it, drawn, and served to a browser."""
