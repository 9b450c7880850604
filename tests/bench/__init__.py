"""Speed as a ratio to a raw limit measured in the same run; printed, never a pass or a failure."""
