"""Many callers at the same moment, for tests on PostgreSQL: SQLite lets one writer in at a time and hides a race."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.db import connection

from fleet.errors import Refusal


def at_once(*calls):
    """Start all calls together; give back each answer, or the refusal it ended with."""
    gate = Barrier(len(calls))

    def run(call):
        gate.wait()
        try:
            return call()
        except Refusal as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(run, calls))
