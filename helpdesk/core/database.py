"""Care of the embedded database."""

from django.db import connection


def empty_write_ahead_log() -> bool:
    """Fold SQLite's write-ahead log into the database and empty it; False when it was in use.

    The log keeps pages as they were before an erasure until they are overwritten.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        return False
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        is_busy = cursor.fetchone()[0]
    return not is_busy
