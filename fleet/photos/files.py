"""The files of photos: one each under the data folder, named by the row's id, written whole or not at all."""

import os
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from django.conf import settings

ENDING: Final = ".png"


def folder() -> Path:
    """Return the folder of all photos; what serves files to the public never looks into it."""
    return Path(settings.PHOTO_DIR)


def path_of(pk: uuid.UUID) -> Path:
    """Return where the file of a photo is: in one of 256 folders, so that none grows large."""
    return folder() / pk.hex[:2] / f"{pk}{ENDING}"


def write(pk: uuid.UUID, content: bytes) -> None:
    """Write a photo's file, readable by its owner only; it is moved to its place once it is on the disk."""
    path = path_of(pk)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".", delete=False) as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    Path(file.name).replace(path)


def remove(pk: uuid.UUID) -> None:
    """Remove a photo's file; one that is gone already is no fault."""
    path_of(pk).unlink(missing_ok=True)


def kept() -> Iterator[tuple[uuid.UUID, Path]]:
    """Return every photo's file with the id in its name."""
    for path in sorted(folder().glob(f"??/*{ENDING}")):
        yield uuid.UUID(path.stem), path


def unfinished() -> Iterator[Path]:
    """Return the files whose writing was cut off."""
    yield from folder().glob("??/.*")
