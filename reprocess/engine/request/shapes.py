"""What is said with many requests: answers to checks, readings and counts."""

from __future__ import annotations

Checks = dict[str, bool]
Readings = dict[str, str]
Counts = dict[str, int]
