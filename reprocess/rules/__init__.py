"""What may happen and, if not, why not: pure judgements that return every reason at once, each with its rule id."""
