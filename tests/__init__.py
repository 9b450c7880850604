"""The tests; `python3 -m tests` runs them and every other check."""
