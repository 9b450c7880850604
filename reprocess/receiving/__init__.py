"""What machines outside report by themselves: a signed result becomes the request that a person would have made."""
