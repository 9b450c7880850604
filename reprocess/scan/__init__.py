"""What a scanned string is: one of our own tags, or unreadable with the reason."""
