"""Keep: an append-only, chained record in SQLite; the only package that knows SQLAlchemy."""
