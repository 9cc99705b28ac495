"""After a test that commits: what it wrote is taken out again, and what nobody wrote to is left alone."""

from django.db import connection, transaction

# Filled once for a database, with the names of the models.
STANDING = ("auth_permission", "django_content_type")


def empty_what_was_written(_test_case=None):
    """Delete the rows of every table that holds some; whoever still writes is waited for.

    Django's own way truncates every table there is: on PostgreSQL a hundred of them get new files after each test.
    """
    names = tables()
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"LOCK TABLE {', '.join(map(_quoted, names))} IN SHARE ROW EXCLUSIVE MODE")
        for name in holding_rows(names):
            cursor.execute(f"DELETE FROM {_quoted(name)}")  # noqa: S608 -- a name from our own models


def tables():
    """Return the names of the tables that tests write to."""
    named = connection.introspection.django_table_names(only_existing=True, include_views=False)
    return sorted(set(named).difference(STANDING))


def holding_rows(names):
    """Return which of some tables hold a row."""
    looks = [f"SELECT '{name}' WHERE EXISTS (SELECT 1 FROM {_quoted(name)})" for name in names]  # noqa: S608 -- as above
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(looks))
        return [name for (name,) in cursor.fetchall()]


def _quoted(name):
    return connection.ops.quote_name(name)
