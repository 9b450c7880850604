"""Decide one request: the entries to write, or the answers why not."""
