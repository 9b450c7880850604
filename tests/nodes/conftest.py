"""The server and the small department on it."""

from tests.postgres import postgres_address, postgres_department, postgres_server

__all__ = ["postgres_address", "postgres_department", "postgres_server"]
