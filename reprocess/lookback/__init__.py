"""Who and what is concerned: from a thing in doubt to items, their cycles, their uses and their wearers (pure)."""
