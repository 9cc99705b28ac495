"""A link between a browser and the service that fails the way links do: gone, swallowing what is sent, or the answer."""

import socket
import threading
from contextlib import suppress

CHUNK = 65536


class Link:
    """Passes connections on to a port of this machine as long as it is up.

    ``up``: everything passes. ``down``: nothing connects and what was connected breaks. ``deaf``: requests that write
    are lost on the way there. ``mute``: they arrive and their answers are lost on the way back.
    """

    def __init__(self, port):
        self.state = "up"
        self._to = port
        self._open = set()
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def url(self):
        return f"http://localhost:{self.port}"

    def set(self, state):
        self.state = state
        if state == "down":
            for one in list(self._open):
                self._end(one)

    def close(self):
        self.set("down")
        self._server.close()

    def _accept(self):
        while True:
            try:
                near, _ = self._server.accept()
            except OSError:
                return
            if self.state == "down":
                near.close()
                continue
            far = socket.create_connection(("127.0.0.1", self._to))
            self._open |= {near, far}
            lost = threading.Event()
            threading.Thread(target=self._there, args=(near, far, lost), daemon=True).start()
            threading.Thread(target=self._back, args=(far, near, lost), daemon=True).start()

    def _there(self, near, far, lost):
        with suppress(OSError):
            while data := near.recv(CHUNK):
                writes = data.startswith(b"POST ")
                if writes and self.state == "deaf":
                    break
                if writes and self.state == "mute":
                    lost.set()
                far.sendall(data)
        self._end(near)
        self._end(far)

    def _back(self, far, near, lost):
        with suppress(OSError):
            while data := far.recv(CHUNK):
                if lost.is_set():
                    break
                near.sendall(data)
        self._end(near)
        self._end(far)

    def _end(self, one):
        self._open.discard(one)
        with suppress(OSError):
            one.shutdown(socket.SHUT_RDWR)
        one.close()
