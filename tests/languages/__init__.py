"""Tests of the texts that people read."""
