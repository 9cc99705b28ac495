"""A page whose write gave way to others says so, and nothing was stored."""

from django.db import OperationalError, connection

from fleet.garage.models import Sharing


class UndoneError(Exception):
    """What a database driver says of a transaction that it ended for another."""

    sqlstate = "40P01"


def give_way(execute, sql, params, many, context):
    if sql.startswith('INSERT INTO "garage_sharing"'):
        raise OperationalError from UndoneError()
    return execute(sql, params, many, context)


def test_a_form_that_met_others_at_the_same_rows_can_be_sent_again(as_, rider, longfield):
    client, form = as_(rider.person), {"organisation": longfield.pk}

    with connection.execute_wrapper(give_way):
        busy = client.post("/garage/sharing/", form)
    stored = Sharing.objects.count()
    again = client.post("/garage/sharing/", form)

    assert busy.status_code == 503
    assert "send it again in a few seconds" in busy.content.decode()
    assert (stored, Sharing.objects.count()) == (0, 1)
    assert again.status_code == 302
