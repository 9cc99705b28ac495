"""A PostgreSQL server of a test's own, that can be restarted and can crash while everything else runs on."""

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.db import connection

INSTALLED = Path("/usr/lib/postgresql")
# Not waiting for the disk saves time; what was committed still outlives a crash of the server, though not of the machine.
OPTIONS = ("fsync=off", "full_page_writes=off", "shared_buffers=64MB", "max_connections=40")


def programs() -> Path | None:
    """Return the folder with the programs of the newest server that is installed."""
    found = [path.parent for path in INSTALLED.glob("*/bin/initdb")]
    found.sort(key=lambda path: int(path.parent.name))
    on_path = shutil.which("initdb")
    return found[-1] if found else Path(on_path).parent if on_path else None


class Server:
    """One cluster in a temporary folder, on a free port, with one empty database."""

    def __init__(self, folder: Path, programs: Path) -> None:
        self.folder, self.programs = folder, programs
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"postgresql://postgres@127.0.0.1:{self.port}/postgres"
        if os.geteuid() == 0:  # as which the server refuses to run
            shutil.chown(folder, "postgres")
        self._run(
            "initdb", "--username=postgres", "--auth=trust", "--no-sync", "--no-locale", "--encoding=UTF8"
        )

    def start(self) -> None:
        """Start and wait until it answers; after a crash it first recovers what was committed."""
        options = [
            f"port={self.port}",
            "listen_addresses=127.0.0.1",
            f"unix_socket_directories={self.folder}",
        ]
        words = " ".join(f"-c {option}" for option in (*options, *OPTIONS))
        self._run("pg_ctl", "start", "--wait", f"--log={self.folder}/log", f"--options={words}")

    def stop(self) -> None:
        """Stop as a restart does: every connection is ended and what they were doing is undone."""
        self._run("pg_ctl", "stop", "--wait", "--mode=fast")

    def crash(self) -> None:
        """End at once, with no time to write anything."""
        self._run("pg_ctl", "stop", "--wait", "--mode=immediate")

    def take(self, url: str) -> None:
        """Take over another server's database as it is."""
        dump = subprocess.run([self.programs / "pg_dump", url], check=True, stdout=subprocess.PIPE)
        words = ("--quiet", "--set=ON_ERROR_STOP=1", self.url)
        subprocess.run(
            [self.programs / "psql", *words], input=dump.stdout, check=True, stdout=subprocess.DEVNULL
        )

    def _run(self, program: str, *words: str) -> None:
        command = [str(self.programs / program), f"--pgdata={self.folder}/data", *words]
        if os.geteuid() == 0:
            command = ["runuser", "--user", "postgres", "--", *command]
        subprocess.run(command, cwd=self.folder, check=True, stdout=subprocess.DEVNULL)


@contextmanager
def own_server(url: str) -> Iterator[Server]:
    """Offer a server with a copy of the database at the address, on which this process works as long as it is offered."""
    found = programs()
    if found is None:
        say = pytest.fail if os.environ.get("FLEET_REQUIRE_SERVICES") == "1" else pytest.skip
        say("needs the programs of a PostgreSQL server: initdb was not found")
    with tempfile.TemporaryDirectory(prefix="server-") as folder:
        server = Server(Path(folder), found)
        server.start()
        server.take(url)
        before = connection.settings_dict.copy()
        connection.close()
        connection.settings_dict.update(
            HOST="127.0.0.1", PORT=str(server.port), NAME="postgres", USER="postgres", PASSWORD="", OPTIONS={}
        )
        try:
            yield server
        finally:
            connection.close()
            connection.settings_dict.update(before)
            server.crash()
