"""Rings: a bell wakes a sweep every second, the sweep claims what is due, gives it once and records that it did."""
