"""The whole database and all photos as one file, and back: every row, unlike the exchange folder of what people entered."""

import json
import os
import re
import shutil
import sqlite3
import subprocess
import tempfile
import uuid
import zipfile
from collections.abc import Mapping
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from fleet.errors import Conflict, Invalid
from fleet.photos import files

ABOUT: Final = "about.json"
CONTENT: Final = "database"
PHOTO: Final = re.compile(r"photos/([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})\.png")


class NotEmpty(Conflict):
    """A restore over a database that holds something."""

    code = "not-empty"


def back_up(file: Path, *, at: datetime) -> dict[str, Any]:
    """Write the database as it is at one moment, and the photos, into a new file, while the service goes on; return what it holds.

    Photos are read after the rows: one kept meanwhile has no row yet and is swept away, one erased meanwhile stays away. The file is written beside its place and moved there when it is whole, readable by its owner only.
    """
    if file.exists():
        raise Invalid(
            f"{file} exists already: name a new file, so that no earlier backup is lost.", field="file"
        )
    about = {"engine": connection.vendor, "made_at": at.isoformat(), "migrations": _migrations()}
    with tempfile.TemporaryDirectory(dir=file.parent, prefix=".backup-") as folder:
        content, packed = Path(folder) / CONTENT, Path(folder) / "packed"
        if connection.vendor == "sqlite":
            _copy_sqlite(content)
        else:
            _run("pg_dump", "--format=custom", f"--file={content}")
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(ABOUT, json.dumps(about, indent=2))
            archive.write(content, CONTENT)
            _pack_photos(archive)
        packed.chmod(0o600)
        packed.replace(file)
    return about


def restore(file: Path, *, replace: bool) -> dict[str, Any]:
    """Put the database back as a file holds it; one that holds anything is replaced only when that is said."""
    about = about_of(file)
    if about["engine"] != connection.vendor:
        raise Invalid(
            f"This backup was made on {about['engine']} and this database is {connection.vendor}: restore it on the same "
            "kind, or move the data with export and import.",
            field="file",
        )
    if not replace and is_in_use():
        raise NotEmpty("This database holds people already: say --replace to put the backup in its place.")
    unknown = sorted(set(about["migrations"]) - _known_migrations())
    if unknown:
        raise Invalid(
            f"This backup is of a newer version ({unknown[0]} and {len(unknown) - 1} more): update the service first.",
            field="file",
        )
    with tempfile.TemporaryDirectory(prefix="restore-") as folder, zipfile.ZipFile(file) as archive:
        content = Path(archive.extract(CONTENT, folder))
        if connection.vendor == "sqlite":
            _put_back_sqlite(content)
        else:
            _run(
                "pg_restore", "--clean", "--if-exists", "--no-owner", "--no-privileges", "--single-transaction",
                "--exit-on-error", f"--dbname={connection.settings_dict['NAME']}", str(content),
            )  # fmt: skip
        _put_back_photos(archive)
    return about


def about_of(file: Path) -> dict[str, Any]:
    """Return what a backup says of itself; a file that is none is refused."""
    if not file.exists():
        raise Invalid(f"There is no file {file}: check its name.", field="file")
    found: dict[str, Any] = {}
    try:
        with zipfile.ZipFile(file) as archive:
            if archive.testzip() is None and CONTENT in archive.namelist():
                found = json.loads(archive.read(ABOUT))
    except (zipfile.BadZipFile, KeyError, ValueError, OSError):
        found = {}
    if not found:
        raise Invalid(f"{file} is no whole backup: use one that the backup command wrote.", field="file")
    return found


def is_in_use() -> bool:
    """Return whether the database holds any person."""
    if "accounts_person" not in connection.introspection.table_names():
        return False
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM accounts_person LIMIT 1")
        return cursor.fetchone() is not None


def _pack_photos(archive: zipfile.ZipFile) -> None:
    """Put the photos in, which are packed already; one that is erased while this runs is left out."""
    for pk, path in files.kept():
        try:
            content = path.read_bytes()
        except FileNotFoundError:
            continue
        archive.writestr(f"photos/{pk}{files.ENDING}", content, zipfile.ZIP_STORED)


def _put_back_photos(archive: zipfile.ZipFile) -> None:
    """Write the photos to their places; any other name in the file is none of ours."""
    for name in archive.namelist():
        if found := PHOTO.fullmatch(name):
            files.write(uuid.UUID(found[1]), archive.read(name))


def _copy_sqlite(to: Path) -> None:
    connection.ensure_connection()
    with closing(sqlite3.connect(to)) as copy:
        connection.connection.backup(copy)
        _refuse_broken(copy)


def _put_back_sqlite(content: Path) -> None:
    with closing(sqlite3.connect(content)) as copy:
        _refuse_broken(copy)
        connection.ensure_connection()
        copy.backup(connection.connection)
    connection.close()


def _refuse_broken(database: sqlite3.Connection) -> None:
    try:
        [said] = database.execute("PRAGMA integrity_check").fetchone()
    except sqlite3.DatabaseError as error:
        said = str(error)
    if said != "ok":
        raise Invalid(f"The copy is broken ({said}): nothing was changed.", field="file")


def _run(tool: str, *arguments: str) -> None:
    program = shutil.which(tool)
    if program is None:
        raise Invalid(
            f"{tool} is not installed here: install the client programs of PostgreSQL.", field="file"
        )
    ran = subprocess.run(  # noqa: S603 - a fixed program, and arguments that are no shell's
        [program, *arguments],
        env=_as_environment(connection.settings_dict),
        capture_output=True,
        text=True,
        check=False,
    )
    if ran.returncode:
        raise Invalid(f"{tool} failed: {ran.stderr.strip()[-500:]}", field="file")


def _as_environment(settings: Mapping[str, Any]) -> dict[str, str]:
    """Return how the client programs find the database; a password stands in no list of processes."""
    names = {
        "PGHOST": "HOST",
        "PGPORT": "PORT",
        "PGUSER": "USER",
        "PGPASSWORD": "PASSWORD",
        "PGDATABASE": "NAME",
    }
    given = {name: str(settings[key]) for name, key in names.items() if settings.get(key)}
    return {**os.environ, **given}


def _migrations() -> list[str]:
    return sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations())


def _known_migrations() -> set[str]:
    return {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
