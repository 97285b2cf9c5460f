"""A session of the dashboard without a browser: it speaks over the socket as a browser does and draws nothing.

Twenty browsers on two cores measure the browsers. This one sends what a click sends and waits for the last message of
the run; what it receives is counted as it comes over the wire.
"""

from __future__ import annotations

import time
from typing import Any

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import connect
from websockets.typing import Subprotocol

_DONE = (ForwardMsg.FINISHED_SUCCESSFULLY, ForwardMsg.FINISHED_FRAGMENT_RUN_SUCCESSFULLY)


class LightSession:
    """One person at one page. `choices` holds the fields of the page by their label: id and options.

    `title` is the page's heading; a run that ends on a page of another heading counts as an error.
    """

    def __init__(self, address: str, page: str = "") -> None:
        self.page, self.received, self.errors = page, 0, 0
        self.title = ""
        self.choices: dict[str, tuple[str, list[str]]] = {}
        self.chosen: dict[str, str] = {}
        self._hash = ""
        # A browser sends no pings either: a server that is slow to answer one is slow, and not gone.
        self._socket = connect(
            f"{address.replace('http', 'ws')}/_stcore/stream",
            subprotocols=[Subprotocol("streamlit")],
            max_size=None,
            ping_interval=None,
        )

    def run(self, timeout: float = 120.0) -> float:
        """Run the page with the present choices; seconds until its last message."""
        message = BackMsg()
        state = message.rerun_script
        state.page_script_hash, state.page_name = self._hash, "" if self._hash else self.page
        for label, value in self.chosen.items():
            widget = state.widget_states.widgets.add()
            widget.id = self.choices[label][0]
            widget.string_array_value.data.append(value)
        start = time.perf_counter()
        self._socket.send(message.SerializeToString())
        while True:
            frame = self._socket.recv(timeout=timeout)
            self.received += len(frame)
            answer = ForwardMsg.FromString(frame if isinstance(frame, bytes) else frame.encode())
            kind = answer.WhichOneof("type")
            if kind == "navigation":  # a new session tells the entry's page only, whatever page was asked for
                self._hash = answer.navigation.page_script_hash
            elif kind == "delta":
                self._take(answer.delta)
            elif kind == "script_finished":
                if answer.script_finished in _DONE:
                    return time.perf_counter() - start
                self.errors += answer.script_finished == ForwardMsg.FINISHED_WITH_COMPILE_ERROR

    def _take(self, delta: Any) -> None:
        element = delta.new_element
        kind = element.WhichOneof("type")
        if kind == "exception":
            self.errors += 1
        elif kind == "heading" and element.heading.tag == "h1":
            self.errors += self.title not in ("", element.heading.body)
            self.title = element.heading.body
        elif kind == "button_group":
            group = element.button_group
            self.choices[group.label] = (group.id, [o.content for o in group.options])

    def choose(self, label: str, option: str) -> float:
        """Seconds of a run with another option of a row of choices."""
        self.chosen[label] = option
        return self.run()

    def close(self) -> None:
        self._socket.close()
