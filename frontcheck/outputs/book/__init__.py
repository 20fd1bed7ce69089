"""The handbook: its pages, as one file to read offline and on the terminal."""
