"""A queue folder, and parties that publish to it and consume from it."""

import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from kombu import Connection


@pytest.fixture
def queue_folder(tmp_path: Path) -> Path:
    return tmp_path / "queue"


@pytest.fixture
def connect(queue_folder: Path) -> Iterator[Callable[[], Connection]]:
    opened: list[Connection] = []

    def open_connection() -> Connection:
        connection = Connection(
            "fleet-files://",
            transport_options={
                "data_folder_in": str(queue_folder / "messages"),
                "data_folder_out": str(queue_folder / "messages"),
                "control_folder": str(queue_folder / "control"),
                "polling_interval": 0.01,
            },
        )
        opened.append(connection)
        return connection

    yield open_connection

    for connection in opened:
        connection.close()


@pytest.fixture
def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
