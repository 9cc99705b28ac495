"""Permissions, invitations, keys and roles through the API: given, read by those concerned, and ended at once."""

from fleet.accounts.actions import make_key, make_organisation_key
from fleet.garage.actions import register_rider, share
from fleet.garage.models import Invitation, Sharing
from fleet.replies.models import Reply
from fleet.running.models import Stint

SHARINGS, INVITATIONS, KEYS = "/api/v1/sharings", "/api/v1/invitations", "/api/v1/keys"


def ids(answer):
    return {row["id"] for row in answer.json()["results"]}


def keyed(ask, token):
    client = ask()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    return client


def test_a_rider_lets_testers_in_and_takes_it_back(ask, world, rider_person, tester):
    robin, tests = ask(rider_person), ask(tester)
    names = robin.get("/api/v1/organisation-names?code=longfield").json()["results"]

    given = robin.post(SHARINGS, {"organisation": names[0]["id"], "scope": "stints"})
    seen, stints = tests.get(SHARINGS), tests.get("/api/v1/stints")
    ended = robin.post(f"{SHARINGS}/{given.json()['id']}/withdraw")

    assert given.status_code == 201
    assert given.json()["organisation_name"] == "Longfield Track Days"
    assert ids(seen) == {given.json()["id"]}
    assert ids(stints) == {str(pk) for pk in Stint.objects.values_list("pk", flat=True)}
    assert ended.json()["withdrawn_at"] is not None
    assert ids(tests.get(SHARINGS)) == ids(tests.get("/api/v1/stints")) == set()
    assert given.json()["id"] in ids(robin.get(f"{SHARINGS}?is_withdrawn=true"))


def test_whom_a_rider_lets_in_does_not_end_it_for_them(ask, world, rider, longfield, tester, now):
    sharing = share(by=rider.person, rider=rider, organisation=longfield, scope="stints", at=now)

    answer = ask(tester).post(f"{SHARINGS}/{sharing.pk}/withdraw")

    assert answer.status_code == 403
    assert Sharing.objects.get(pk=sharing.pk).withdrawn_at is None


def test_somebody_without_a_garage_has_nothing_to_share(ask, world, tester, longfield):
    answer = ask(tester).post(SHARINGS, {"organisation": str(longfield.pk), "scope": "stints"})

    assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed")
    assert "open a garage" in answer.json()["detail"]


def test_the_crew_of_an_event_reads_no_sharing_that_opens_nothing_to_it(
    ask, world, rider, longfield, crew, now
):
    share(by=rider.person, rider=rider, organisation=longfield, scope="stints", at=now)

    assert ids(ask(crew).get(SHARINGS)) == set()


def test_an_invitation_shows_its_link_once_and_it_is_not_kept(ask, world, fitter, now):
    client, body = ask(fitter), {"rider": str(world.rows["rider"].pk)}
    key = {"Idempotency-Key": "k-1"}

    made = client.post(INVITATIONS, body, headers=key)
    again = client.post(INVITATIONS, body, headers=key)
    listed = client.get(f"{INVITATIONS}/{made.json()['id']}")

    assert made.status_code == 201
    assert ask().get(made.json()["link"]).status_code == 200
    assert again.json() == made.json() | {"link": None}
    assert again["Idempotency-Replayed"] == "true"
    assert "link" not in listed.json()
    secret = made.json()["link"].rstrip("/").rsplit("/", 1)[1]
    assert not [reply for reply in Reply.objects.all() if secret in reply.body]


def test_a_revoked_invitation_ends_and_an_old_one_ends_no_other(ask, world, fitter):
    client, rider = ask(fitter), world.rows["rider"]
    old = world.rows["invitation"]
    new = client.post(INVITATIONS, {"rider": str(rider.pk)}).json()["id"]

    client.post(f"{INVITATIONS}/{old.pk}/revoke")
    still_open = Invitation.objects.get(pk=new).revoked_at is None
    ended = client.post(f"{INVITATIONS}/{new}/revoke")

    assert still_open
    assert ended.json()["revoked_at"] is not None


def test_a_tester_invites_nobody(ask, world, tester):
    assert ask(tester).post(INVITATIONS, {"rider": str(world.rows["rider"].pk)}).status_code == 422
    assert ids(ask(tester).get(INVITATIONS)) == set()


def test_keys_are_listed_without_their_secret_and_revoked_by_somebody_signed_in(
    ask, tarn, stock_manager, fitter, now
):
    own, token = make_key(by=stock_manager, at=now, name="scale", scopes=["read", "write_access"])
    shop, _ = make_organisation_key(
        by=stock_manager, at=now, organisation=tarn, role="fitter", name="shop", scopes=["read"]
    )
    client, program = ask(stock_manager), keyed(ask, token)

    listed = client.get(KEYS)
    by_program = program.post(f"{KEYS}/{own.pk}/revoke")
    by_colleague = ask(fitter).post(f"{KEYS}/{shop.pk}/revoke")
    by_person = client.post(f"{KEYS}/{own.pk}/revoke")

    assert ids(listed) == {str(own.pk), str(shop.pk)}
    assert token.rsplit("_", 1)[1] not in listed.content.decode()
    assert "digest" not in listed.content.decode()
    assert (by_program.status_code, by_program.json()["code"]) == (403, "scope-too-small")
    assert by_colleague.status_code == 404
    assert by_person.json()["revoked_by"] == str(stock_manager.pk)
    assert program.get(KEYS).status_code == 401


def test_keys_are_not_made_by_programs_or_here_at_all(ask, stock_manager):
    assert ask(stock_manager).post(KEYS, {"name": "x", "scopes": ["read"]}).status_code == 405


def test_roles_are_read_by_who_looks_after_the_people_and_else_ones_own(
    ask, tarn, longfield, stock_manager, fitter, crew, now
):
    make_organisation_key(
        by=stock_manager, at=now, organisation=tarn, role="fitter", name="shop", scopes=["read"]
    )

    def roles(person):
        rows = ask(person).get("/api/v1/memberships").json()["results"]
        return {(row["person_name"], row["role"]) for row in rows}

    assert roles(stock_manager) == {("Sal Whitlow", "stock_manager"), ("Fen Aldous", "fitter")}
    assert roles(fitter) == {("Fen Aldous", "fitter")}
    assert roles(crew) == {("Corin Bly", "crew")}


def test_a_scope_that_writes_the_garage_gives_no_permission_away(ask, rider, rider_person, longfield, now):
    _row, token = make_key(by=rider_person, at=now, name="app", scopes=["read", "write_garage"])
    body = {"organisation": str(longfield.pk), "scope": "stints"}

    answer = keyed(ask, token).post(SHARINGS, body)

    assert (answer.status_code, answer.json()["code"]) == (403, "scope-too-small")
    assert "write_access" in answer.json()["detail"]


def test_only_walk_ins_of_ones_own_organisation_are_invited(ask, breckside, stranger, fitter, now, tarn):
    theirs = register_rider(by=stranger, code="r-700", name="Nell Ash", registered_with=breckside)

    answer = ask(fitter).post(INVITATIONS, {"rider": str(theirs.pk)})

    assert answer.status_code == 422
    assert not Invitation.objects.exists()
