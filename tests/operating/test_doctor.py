"""The doctor finds what is wrong by trying it, and says how to mend it."""

import json

import pytest
from django.core.management import call_command

from fleet.operating import doctor
from fleet.operating.doctor import examine


def finding(part):
    return next(one for one in examine() if one.part == part)


def test_a_sound_installation_has_nothing_to_mend(db, capsys):
    call_command("doctor")

    said = capsys.readouterr().out
    assert "WRONG" not in said
    assert "well   database" in said
    assert "well   migrations: all applied" in said


def test_a_broker_that_is_away_is_found(db, settings, capsys):
    settings.REDIS_URL = settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"

    with pytest.raises(SystemExit) as ended:
        call_command("doctor", "--json")

    queue = next(one for one in json.loads(capsys.readouterr().out) if one["part"] == "queue")
    assert ended.value.code == 1
    assert not queue["is_well"]
    assert "FLEET_REDIS_URL" in queue["mend"]


def test_missing_static_files_and_a_console_for_mail_are_wrong_in_production(db, settings, tmp_path):
    settings.PRODUCTION, settings.STATIC_ROOT = True, tmp_path
    before = finding("static files")
    (tmp_path / "staticfiles.json").write_text('{"paths": {"a": "b"}}')

    assert not before.is_well
    assert "collectstatic" in before.mend
    assert finding("static files").is_well
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    assert not finding("mail").is_well


def test_a_full_disk_is_found(db, monkeypatch):
    monkeypatch.setattr(doctor, "LEAST_FREE_BYTES", 10**18)

    assert "Make room" in finding("disk").mend


def test_what_cannot_be_tried_is_a_finding(db, monkeypatch):
    def broken():
        raise RuntimeError("no such thing")
        yield

    monkeypatch.setattr(doctor, "PARTS", (("queue", broken),))

    assert finding("queue").seen == "RuntimeError: no such thing"
