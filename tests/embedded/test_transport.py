"""The queue made of files keeps every message whole, in order and through a kill."""

import contextlib
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from kombu.exceptions import ChannelError

HERE = Path(__file__).parent


def publish(connection, *numbers: int, queue: str = "work") -> None:
    producer = connection.Producer(serializer="json")
    for number in numbers:
        producer.publish({"number": number}, routing_key=queue)


def receive(connection, queue: str = "work") -> list[int]:
    numbers = []
    while message := connection.default_channel.basic_get(queue):
        numbers.append(message.payload["number"])
        message.ack()
    return numbers


def files(queue_folder: Path) -> list[Path]:
    return [path for path in (queue_folder / "messages").rglob("*") if path.is_file()]


@pytest.fixture
def start(queue_folder: Path) -> Iterator[Callable[..., subprocess.Popen[str]]]:
    with contextlib.ExitStack() as stack:

        def run(script: str, *words: str) -> subprocess.Popen[str]:
            process = subprocess.Popen(
                [sys.executable, HERE / script, queue_folder, *words],
                stdout=subprocess.PIPE,
                text=True,
                env={"PYTHONPATH": str(HERE.parent.parent)},
            )
            stack.enter_context(process)
            stack.callback(process.kill)
            return process

        yield run


def test_folders_are_made_where_there_are_none(connect, queue_folder):
    connect().default_channel.basic_get("work")

    assert (queue_folder / "messages").is_dir()
    assert (queue_folder / "control").is_dir()


def test_messages_arrive_in_the_order_they_were_sent(connect):
    publish(connect(), *range(200))

    assert receive(connect()) == list(range(200))


def test_order_is_kept_when_the_clock_steps_back(connect, monkeypatch):
    moments = iter([2_000, 1_000, 1_500])
    monkeypatch.setattr("fleet.embedded.spool._last_time_ns", 0)
    monkeypatch.setattr("fleet.embedded.spool.time.time_ns", lambda: next(moments))

    publish(connect(), 1, 2, 3)

    assert receive(connect()) == [1, 2, 3]


def test_queues_do_not_mix(connect):
    publish(connect(), 1, 2)
    publish(connect(), 7, queue="timetable")

    assert receive(connect(), "timetable") == [7]
    assert receive(connect(), "work") == [1, 2]


def test_a_settled_message_leaves_no_file(connect, queue_folder):
    publish(connect(), 1)

    receive(connect())

    assert files(queue_folder) == []


def test_a_message_is_given_to_one_consumer_only(connect):
    publish(connect(), 1)
    first, second = connect().default_channel, connect().default_channel

    taken = first.basic_get("work")

    assert taken.payload == {"number": 1}
    assert second.basic_get("work") is None


def test_an_unsettled_message_returns_to_its_place_when_its_consumer_leaves(connect):
    publish(connect(), 1, 2, 3)
    consumer = connect()
    consumer.default_channel.basic_get("work")

    consumer.close()

    assert receive(connect()) == [1, 2, 3]


def test_a_requeued_message_lets_the_others_go_first(connect):
    publish(connect(), 1, 2)
    channel = connect().default_channel

    channel.basic_get("work").requeue()

    assert receive(connect()) == [2, 1]


def test_a_rejected_message_is_gone(connect, queue_folder):
    publish(connect(), 1)

    connect().default_channel.basic_get("work").reject()

    assert files(queue_folder) == []


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"\xff\xfe\x00", b'{"body": "x"}', b'{"properties": {"delivery_tag": "1"}}'],
    ids=["empty", "cut off", "not a message", "not text", "no properties", "no body"],
)
def test_an_unreadable_file_is_set_aside_and_the_next_message_comes(connect, queue_folder, content, caplog):
    publish(connect(), 1)
    bad = queue_folder / "messages" / "00000000000000000001_bad.work.msg"
    bad.write_bytes(content)

    received = receive(connect())

    assert received == [1]
    assert (queue_folder / "messages" / "broken" / bad.name).read_bytes() == content
    assert "Unreadable queue file" in caplog.text


def test_an_unreadable_routing_table_is_set_aside(connect, queue_folder):
    channel = connect().default_channel
    (queue_folder / "control" / "news.exchange").write_bytes(b"")

    assert channel.get_table("news") == []
    assert (queue_folder / "control" / "broken" / "news.exchange").exists()


def test_two_programs_binding_to_one_exchange_are_both_kept(connect):
    for queue in ("work", "timetable"):
        channel = connect().default_channel
        channel._queue_bind("news", "", "", queue)

    assert {row.queue for row in connect().default_channel.get_table("news")} == {"work", "timetable"}


def test_consuming_without_acknowledgement_is_refused(connect):
    channel = connect().default_channel

    with pytest.raises(ChannelError, match="no_ack=False"):
        channel.basic_get("work", no_ack=True)
    with pytest.raises(ChannelError, match="no_ack=False"):
        channel.basic_consume("work", True, print, "tag")


def test_a_folder_that_cannot_be_written_is_reported(connect, queue_folder):
    connection = connect()
    connection.default_channel.basic_get("work")
    for path in (queue_folder / "messages" / "taken").iterdir():
        path.rmdir()
    (queue_folder / "messages" / "taken").rmdir()
    (queue_folder / "messages").rmdir()

    with pytest.raises(ChannelError, match="Cannot add a message"):
        connection.default_channel._put("work", {})


def test_two_publishers_and_a_reader_lose_nothing(connect, start):
    publishers = [start("publisher.py", name, "150") for name in ("a", "b")]
    channel = connect().default_channel
    numbers: dict[str, list[int]] = {"a": [], "b": []}

    deadline = time.monotonic() + 20
    while sum(map(len, numbers.values())) < 300 and time.monotonic() < deadline:
        if message := channel.basic_get("work"):
            numbers[message.payload["from"]].append(message.payload["number"])
            message.ack()

    assert [process.wait(5) for process in publishers] == [0, 0]
    assert numbers == {"a": list(range(150)), "b": list(range(150))}


def test_a_publisher_killed_while_writing_leaves_only_whole_messages(connect, queue_folder, start):
    publisher = start("publisher.py", "a", "0")
    assert publisher.stdout
    publisher.stdout.readline()
    time.sleep(0.2)

    publisher.kill()
    publisher.wait()

    messages = list((queue_folder / "messages").glob("*.msg"))
    assert messages
    assert all(json.loads(path.read_bytes())["properties"]["delivery_tag"] for path in messages)
    numbers = receive(connect())
    assert numbers == list(range(len(messages)))


def test_messages_held_by_a_killed_consumer_come_back_in_order(connect, start):
    publish(connect(), 1, 2, 3)
    taker = start("taker.py", "2")
    assert taker.stdout
    assert taker.stdout.readline() == "2\n"
    held_elsewhere = connect().default_channel.basic_get("work")

    taker.kill()
    taker.wait()

    assert held_elsewhere.payload == {"number": 3}
    assert receive(connect()) == [1, 2]
