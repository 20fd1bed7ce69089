"""The handbook and the page of checks: files to read offline, and the terminal's words of them."""
