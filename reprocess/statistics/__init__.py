"""What many numbers say together: percentiles, survival, shares, control charts and queues.

Everything here is pure and knows nothing of items or steps. Two answers are not numbers: None means that there is too
little to say anything, never zero; a ValueError means that what was given cannot be so.
"""
