"""Offer the spool folder to Celery as a broker, for the run that needs no server besides Python.

The transport of the kombu library for plain folders loses messages when a process is killed and stops on an empty
file; this one keeps its exchanges and channels, and puts every file through ``fleet.embedded.spool``.
"""

from pathlib import Path
from queue import Empty
from typing import Any

from kombu.exceptions import ChannelError
from kombu.transport import filesystem, virtual
from kombu.transport.filesystem import exchange_queue_t
from kombu.utils.json import dumps

from fleet.embedded.spool import Spool, locked, set_aside, write_whole

NO_ACK_REFUSED = "The file queue keeps each message until it is acknowledged: consume with no_ack=False."


class QoS(virtual.QoS):
    """Bookkeeping of delivered messages that ends a held file when its message is settled."""

    channel: "Channel"

    def ack(self, delivery_tag: str) -> None:
        """Remove a message that was dealt with."""
        super().ack(delivery_tag)
        self.channel.spool.finish(delivery_tag)

    def reject(self, delivery_tag: str, requeue: bool = False) -> None:  # noqa: FBT001, FBT002 -- kombu's signature
        """Drop a message, or put it at the end of its queue."""
        super().ack(delivery_tag)
        if requeue:
            self.channel.spool.give_back(delivery_tag, at_end=True)
        else:
            self.channel.spool.finish(delivery_tag)

    def restore_unacked(self) -> list[Any]:  # type: ignore[override]  # kombu returns the failures, its stubs None
        """Return every unsettled message to its old place in its queue."""
        for delivery_tag in list(self._delivered or ()):
            self.channel.spool.give_back(delivery_tag)
        if self._delivered is not None:
            self._delivered.clear()
        return []


class Channel(filesystem.Channel):
    """Channel whose messages are whole files, taken by one consumer at a time."""

    QoS = QoS

    def __init__(self, connection: Any, **kwargs: Any) -> None:
        super().__init__(connection, **kwargs)
        folder = Path(self.data_folder_in)
        folder.mkdir(parents=True, exist_ok=True)
        self.control_folder.mkdir(parents=True, exist_ok=True)
        self.spool = Spool(folder)

    def basic_consume(self, queue: str, no_ack: bool, *args: Any, **kwargs: Any) -> Any:  # noqa: FBT001
        """Consume from a queue; without acknowledgements it is refused."""
        if no_ack:
            raise ChannelError(NO_ACK_REFUSED)
        return super().basic_consume(queue, no_ack, *args, **kwargs)

    def basic_get(self, queue: str, no_ack: bool = False, **kwargs: Any) -> Any:  # noqa: FBT001, FBT002
        """Return one message; without acknowledgement it is refused."""
        if no_ack:
            raise ChannelError(NO_ACK_REFUSED)
        return super().basic_get(queue, no_ack, **kwargs)

    def close(self) -> None:
        """Close the channel and give unsettled messages back."""
        super().close()
        self.spool.close()

    def get_table(self, exchange: str) -> list[exchange_queue_t]:  # type: ignore[override]  # as in kombu's own
        """Return the queues bound to an exchange; an unreadable table is set aside and counts as empty."""
        try:
            return super().get_table(exchange)
        except (ValueError, TypeError):
            set_aside(self._table_file(exchange), self.control_folder / "broken")
            return []

    def _table_file(self, exchange: str) -> Path:
        path: Path = self._exchange_file(exchange)  # type: ignore[attr-defined]  # missing in the stubs
        return path

    def _put(self, queue: str, payload: dict[str, Any], **_kwargs: Any) -> None:  # type: ignore[override]  # same
        try:
            self.spool.put(queue, dumps(payload))
        except OSError as error:
            raise ChannelError(f"Cannot add a message to {self.spool.folder}: {error}") from error

    def _get(self, queue: str, timeout: float | None = None) -> dict[str, Any]:  # noqa: ARG002 -- kombu's signature
        payload = self.spool.take(queue)
        if payload is None:
            raise Empty
        return payload

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str | None, queue: str) -> None:
        row = exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with locked(self.control_folder / "lock"):
            table = self.get_table(exchange)
            if row not in table:
                write_whole(self._table_file(exchange), dumps([row, *table]))


class Transport(filesystem.Transport):
    """Broker in a folder, for web, worker and timetable on one machine."""

    Channel = Channel
    driver_type = "fleet-files"
    driver_name = "fleet-files"
