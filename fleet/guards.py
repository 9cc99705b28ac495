"""Rules that the database itself keeps, on PostgreSQL and on SQLite: no overlaps in time, no stock below zero.

PostgreSQL gets exclusion constraints and a trigger, SQLite triggers. SQLite drops a table's triggers when a later
migration rebuilds the table: such a migration runs its guard again (a test counts the guards of a migrated database).
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import IntegrityError, connection, migrations

from fleet.errors import Conflict, Refusal

EVER = "'9999-12-31'"  # not '9999': SQLite would take that for a number, and every date is above a number


class Overlap(Conflict):
    """An interval that overlaps another of the same thing."""

    code = "overlap"


class SoldOut(Conflict):
    """A ledger line that would take a lot below zero."""

    code = "sold-out"


class HasRun(Conflict):
    """A fitting taken from under a stint that ran on it."""

    code = "has-run"


class NotUnique(Conflict):
    """A row that exists already under the same identifying values."""

    code = "exists-already"


REFUSALS: dict[str, Callable[[], Refusal]] = {
    "inventory_fitting_tire_overlap": lambda: Overlap(
        "This tire is on another wheel during that time: remove it there first, or correct the time."
    ),
    "inventory_fitting_axle_overlap": lambda: Overlap(
        "This axle holds another tire during that time: remove that tire first, or correct the time."
    ),
    "inventory_stockmovement_not_below_zero": lambda: SoldOut(
        "Nothing of this lot is left there: choose another lot, or count the stock first."
    ),
    "running_stint_keeps_its_tires": lambda: HasRun(
        "A stint ran on this tire then: give a time after that stint, or void the stint first."
    ),
    "running_stint_overlap": lambda: Overlap(
        "Another stint of this wheel pair covers part of that time: correct the times, or void the other stint."
    ),
}


def refusal_for(error: IntegrityError) -> Refusal:
    """Return the refusal that belongs to a guard's name in a database error."""
    text = str(error)
    for name, refusal in REFUSALS.items():
        if name in text:
            return refusal()
    return NotUnique(
        "The database holds another row with these values already: look for it before adding one."
    )


def no_overlap(table: str, *, name: str, same: str, start: str, end: str) -> migrations.RunPython:
    """Return a migration step: standing rows of ``table`` with one value of ``same`` never overlap in time."""
    when = f"NEW.voided_at IS NULL AND NEW.{start} IS NOT NULL"
    clash = (
        f"SELECT RAISE(ABORT, '{name}') WHERE EXISTS (SELECT 1 FROM {table} o WHERE o.id <> NEW.id "
        f"AND {' AND '.join(f'o.{column} = NEW.{column}' for column in same.split(','))} AND o.voided_at IS NULL "
        f"AND o.{start} < COALESCE(NEW.{end}, {EVER}) AND NEW.{start} < COALESCE(o.{end}, {EVER}))"
    )
    sqlite = [
        f"CREATE TRIGGER {name}_{verb.lower()} BEFORE {verb} ON {table} WHEN {when} BEGIN {clash}; END"
        for verb in ("INSERT", "UPDATE")
    ]
    keys = ", ".join(f"{column} WITH =" for column in same.split(","))
    postgres = [
        "CREATE EXTENSION IF NOT EXISTS btree_gist",
        f"ALTER TABLE {table} ADD CONSTRAINT {name} EXCLUDE USING gist "
        f"({keys}, tstzrange({start}, {end}) WITH &&) WHERE (voided_at IS NULL)",
    ]
    return _step(
        {"sqlite": sqlite, "postgresql": postgres},
        {
            "sqlite": [f"DROP TRIGGER {name}_insert", f"DROP TRIGGER {name}_update"],
            "postgresql": [f"ALTER TABLE {table} DROP CONSTRAINT {name}"],
        },
    )


def never_below_zero(table: str, *, name: str, parent: str, key: str, place: str) -> migrations.RunPython:
    """Return a migration step: the standing quantities of one ``key`` at one ``place`` never sum below zero.

    On PostgreSQL the parent row is locked first, so two movements at once are counted one after the other.
    """
    total = (
        f"SELECT COALESCE(SUM(quantity), 0) FROM {table} WHERE {key} = NEW.{key} AND {place} = NEW.{place} "
        "AND voided_at IS NULL"
    )
    sqlite = [
        f"CREATE TRIGGER {name}_{verb.lower()} AFTER {verb} ON {table} BEGIN "
        f"SELECT RAISE(ABORT, '{name}') WHERE ({total}) < 0; END"
        for verb in ("INSERT", "UPDATE")
    ]
    postgres = [
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"PERFORM 1 FROM {parent} WHERE id = NEW.{key} FOR NO KEY UPDATE; "
        f"IF ({total}) < 0 THEN RAISE EXCEPTION '{name}' USING ERRCODE = 'check_violation'; END IF; "
        "RETURN NULL; END $$",
        f"CREATE TRIGGER {name} AFTER INSERT OR UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
    ]
    return _step(
        {"sqlite": sqlite, "postgresql": postgres},
        {
            "sqlite": [f"DROP TRIGGER {name}_insert", f"DROP TRIGGER {name}_update"],
            "postgresql": [f"DROP TRIGGER {name} ON {table}", f"DROP FUNCTION {name}()"],
        },
    )


def never_changes(table: str, *, name: str, columns: str) -> migrations.RunPython:
    """Return a migration step: the named columns of a stored row of ``table`` never change."""
    names = columns.split(",")
    changed_sqlite = " OR ".join(f"OLD.{column} IS NOT NEW.{column}" for column in names)
    changed_postgres = " OR ".join(f"OLD.{column} IS DISTINCT FROM NEW.{column}" for column in names)
    sqlite = [
        f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} WHEN {changed_sqlite} "
        f"BEGIN SELECT RAISE(ABORT, '{name}'); END"
    ]
    postgres = [
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {changed_postgres} THEN "
        f"RAISE EXCEPTION '{name}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
        f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
    ]
    return _step(
        {"sqlite": sqlite, "postgresql": postgres},
        {
            "sqlite": [f"DROP TRIGGER {name}"],
            "postgresql": [f"DROP TRIGGER {name} ON {table}", f"DROP FUNCTION {name}()"],
        },
    )


def keeps_cover(
    table: str, *, name: str, same: str, start: str, end: str, inner: str, inner_start: str, inner_end: str
) -> migrations.RunPython:
    """Return a migration step: a standing row of ``table`` is not cut short or voided under a row of ``inner``."""
    shrinks = f"(NEW.voided_at IS NOT NULL OR i.{inner_start} < NEW.{start} OR i.{inner_end} > {{ever_new}})"
    clash = (
        f"SELECT 1 FROM {inner} i WHERE i.{same} = OLD.{same} AND i.voided_at IS NULL AND OLD.voided_at IS NULL "
        f"AND i.{inner_start} >= OLD.{start} AND i.{inner_start} < {{ever_old}} AND {shrinks}"
    )
    sqlite_clash = clash.format(
        ever_old=f"COALESCE(OLD.{end}, {EVER})", ever_new=f"COALESCE(NEW.{end}, {EVER})"
    )
    postgres_clash = clash.format(
        ever_old=f"COALESCE(OLD.{end}, 'infinity')", ever_new=f"COALESCE(NEW.{end}, 'infinity')"
    )
    sqlite = [
        f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{name}') WHERE EXISTS ({sqlite_clash}); END"
    ]
    postgres = [
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF EXISTS ({postgres_clash}) THEN "
        f"RAISE EXCEPTION '{name}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
        f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
    ]
    return _step(
        {"sqlite": sqlite, "postgresql": postgres},
        {
            "sqlite": [f"DROP TRIGGER {name}"],
            "postgresql": [f"DROP TRIGGER {name} ON {table}", f"DROP FUNCTION {name}()"],
        },
    )


@contextmanager
def unguarded(table: str, name: str) -> Iterator[None]:
    """Lift a trigger of ``never_changes`` for the block, which lies within a transaction: for an erasure only."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SET CONSTRAINTS ALL IMMEDIATE"
            )  # what waits for a check would keep the table as it is
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER {name}")
            yield
            cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER {name}")
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
            return
        cursor.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = %s", [name])
        [made] = cursor.fetchone()
        cursor.execute(f"DROP TRIGGER {name}")
        yield
        cursor.execute(made)


def _step(forward: dict[str, list[str]], backward: dict[str, list[str]]) -> migrations.RunPython:
    def run(statements: dict[str, list[str]]) -> Callable[[Any, Any], None]:
        def apply(_apps: Any, editor: Any) -> None:
            for statement in statements[editor.connection.vendor]:
                editor.execute(statement)

        return apply

    return migrations.RunPython(run(forward), run(backward))
