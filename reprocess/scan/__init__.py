"""What a scanned string is: one of our own tags, a maker's device label, or unreadable with the reason."""
