"""Tables in and out: CSV files that are checked whole before anything of them is taken, and that come back the same."""
