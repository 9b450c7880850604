"""What the pictures show, as plain rows: pure functions from entries and standings; whoever calls has read the record.

Instants are microseconds since 1970; intervals are half open, `[from, until)`. What still goes on runs until now and
says so.
"""
