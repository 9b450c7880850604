"""The raw limits: what disk and database can do without us."""

from __future__ import annotations

import os
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psycopg

ROUNDS = 400


def fdatasync_rate(place: Path) -> float:
    """Returns how often a second 8 KiB reach the disk."""
    path = place / "sync.bin"
    with path.open("wb") as file:
        began = time.perf_counter()
        for _ in range(ROUNDS):
            file.write(b"x" * 8192)
            file.flush()
            os.fdatasync(file.fileno())
        return ROUNDS / (time.perf_counter() - began)


def raw_step_rate(place: Path) -> float:
    """Returns how many BEGIN IMMEDIATE, INSERT, UPDATE, COMMIT a second the standard library's driver makes durable."""
    connection = sqlite3.connect(place / "raw.db", isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE entry (feed INTEGER PRIMARY KEY, stream TEXT, body TEXT)")
    connection.execute("CREATE TABLE standing (stream TEXT PRIMARY KEY, number INTEGER, state TEXT)")
    connection.executemany("INSERT INTO standing VALUES (?, 0, '')", [(f"item:{one}",) for one in range(ROUNDS)])
    body = "x" * 300
    began = time.perf_counter()
    for number in range(ROUNDS):
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO entry VALUES (NULL, ?, ?)", (f"item:{number}", body))
        connection.execute(
            "UPDATE standing SET number = number + 1, state = ? WHERE stream = ?", (body, f"item:{number}")
        )
        connection.execute("COMMIT")
    rate = ROUNDS / (time.perf_counter() - began)
    connection.close()
    return rate


def raw_server_rate(address: str, callers: int = 1) -> float:
    """Returns how many BEGIN, SELECT FOR UPDATE, INSERT, UPDATE, COMMIT a second psycopg makes durable on a server.

    Args:
        address: of a role that may make tables in its database.
        callers: how many threads ask at once, each over a connection of its own and about rows of its own.
    """
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute("DROP TABLE IF EXISTS raw_entry, raw_standing")
        connection.execute("CREATE TABLE raw_entry (feed BIGSERIAL PRIMARY KEY, stream TEXT, body TEXT)")
        connection.execute("CREATE TABLE raw_standing (stream TEXT PRIMARY KEY, number BIGINT, state TEXT)")
        connection.execute("INSERT INTO raw_standing SELECT 'item:' || n, 0, '' FROM generate_series(0, 999) AS n")
    connections = [psycopg.connect(address, autocommit=True) for _ in range(callers)]
    each = ROUNDS // callers
    with ThreadPoolExecutor(callers) as pool:
        began = time.perf_counter()
        total = sum(pool.map(_raw_steps, range(callers), connections, [each] * callers))
        rate = total / (time.perf_counter() - began)
    for connection in connections:
        connection.close()
    return rate


def _raw_steps(own: int, connection: psycopg.Connection, rounds: int) -> int:
    body = "x" * 300
    for number in range(rounds):
        stream = f"item:{(own * 61 + number) % 1000}"
        connection.execute("BEGIN")
        connection.execute("SELECT number, state FROM raw_standing WHERE stream = %s FOR UPDATE", (stream,)).fetchone()
        connection.execute("INSERT INTO raw_entry (stream, body) VALUES (%s, %s)", (stream, body))
        connection.execute("UPDATE raw_standing SET number = number + 1, state = %s WHERE stream = %s", (body, stream))
        connection.execute("COMMIT")
    return rounds
