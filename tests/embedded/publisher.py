"""Publish numbered messages from a process of its own: ``publisher.py FOLDER NAME COUNT``, COUNT 0 for ever."""

import itertools
import sys
from pathlib import Path

from kombu import Connection

from fleet.embedded.transport import Transport

folder, name, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
options = {
    "data_folder_in": str(folder / "messages"),
    "data_folder_out": str(folder / "messages"),
    "control_folder": str(folder / "control"),
}
with Connection(transport=Transport, transport_options=options) as connection:
    producer = connection.Producer(serializer="json")
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    for number in range(count) if count else itertools.count():
        producer.publish({"from": name, "number": number, "filling": "x" * 20_000}, routing_key="work")
