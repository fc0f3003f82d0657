"""The server's connection between page and kernel, without the network's habit of collecting small packets.

A bench sends small messages sixteen times a second. Left to itself TCP holds the next small packet back until the
page has acknowledged the one before, which takes 40 ms: longer than everything else between a key and the
needle.
"""

from __future__ import annotations

from typing import Any

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection


class PromptConnection(ZMQChannelsWebsocketConnection):
    """Sends every message at once; named in `ServerApp.kernel_websocket_connection_class`."""

    def connect(self) -> Any:
        """Open the connection to the kernel."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
