"""A learner's page without a browser: it opens a lesson and works at its bench by the messages that a page sends."""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
import time
import uuid
from dataclasses import dataclass, field
from urllib.parse import urlencode

from jupyter_server.services.kernels.connection.base import deserialize_msg_from_ws_v1, serialize_msg_to_ws_v1
from tornado.httpclient import AsyncHTTPClient, HTTPRequest
from tornado.websocket import WebSocketClientConnection, websocket_connect

from graders.model_answers.operator import SAFE

PROTOCOL = "v1.kernel.websocket.jupyter.org"
KERNEL = re.compile(r'"kernelId": ?"([0-9a-f-]+)"')
FORGERY = re.compile(r"_xsrf=([^;]+)")
MODEL = re.compile(r'"model_id": ?"([0-9a-f]+)"')
OPENS_WITHIN_S = 600.0
ANSWERS_WITHIN_S = 60.0
HEARTBEAT_S = 5.0  # as bench.js has it
STARTER_PRESSES, CATCHES_WITHIN_S = 4, 15.0
LARGEST_PAGE = 50_000_000
HOOKED_UP = {**SAFE, "gear": "park", "tachometer": "on", "gauge_hose": "manifold", "clamp": "loose"}


class NoBenchError(Exception):
    """A page that holds no bench, or whose program does not answer."""


@dataclass
class PageAlone:
    """One opened lesson; `base` is the address of the learner's server, `cookie` or `token` lets the page in."""

    base: str
    cookie: str = ""
    token: str = ""
    waits_s: list[float] = field(default_factory=list)  # from each act to the settings and readings that answer
    frames: int = 0  # that came since the last look
    running = False
    asked = 0
    said = ""

    @property
    def _headers(self) -> dict[str, str]:
        return {"Cookie": self.cookie} if self.cookie else {}

    def _address(self, path: str, **query: str) -> str:
        asked = {**query, **({"token": self.token} if self.token else {})}
        return f"{self.base}{path}" + (f"?{urlencode(asked)}" if asked else "")

    async def open(self, lesson: str) -> None:
        """Load the lesson's page and connect it to its program. Raises NoBenchError."""
        client = AsyncHTTPClient(force_instance=True, max_body_size=LARGEST_PAGE, max_buffer_size=LARGEST_PAGE)
        waits = {"request_timeout": OPENS_WITHIN_S, "connect_timeout": ANSWERS_WITHIN_S}
        answer = await client.fetch(HTTPRequest(self._address(f"lesson/{lesson}"), headers=self._headers, **waits))
        text = answer.body.decode("utf-8")
        client.close()
        kernel = KERNEL.search(text)
        if kernel is None:
            raise NoBenchError(f"the page of {lesson} names no program: {text[:300]}")
        self._kernel = kernel[1]
        path = f"api/kernels/{self._kernel}/channels"
        address = self._address(path, session_id=uuid.uuid4().hex).replace("http", "ws", 1)
        self._socket: WebSocketClientConnection = await websocket_connect(
            HTTPRequest(address, headers=self._headers, request_timeout=OPENS_WITHIN_S),
            subprotocols=[PROTOCOL],
            max_message_size=LARGEST_PAGE,
        )
        self._session, self._turned = uuid.uuid4().hex, asyncio.Event()
        self._bench: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        self._tasks = [asyncio.create_task(self._listen())]
        for model in dict.fromkeys(MODEL.findall(text)):  # a bench alone has a history
            await self._send({"history": True}, model)
        try:
            self.bench = await asyncio.wait_for(self._bench, ANSWERS_WITHIN_S)
        except TimeoutError:
            raise NoBenchError(f"no part of {lesson} answered as a bench does") from None

    async def start_engine(self) -> None:
        """Make the engine safe, hook it up, start it; it is watched from now on."""
        for control, value in HOOKED_UP.items():
            await self._act(control=control, value=value)
        self._tasks.append(asyncio.create_task(self._watch()))
        for _ in range(STARTER_PRESSES):  # not every engine catches at the first
            await self._act(control="starter")
            until = time.monotonic() + CATCHES_WITHIN_S
            while time.monotonic() < until:
                if self.running:
                    return
                await asyncio.sleep(0.1)
        raise NoBenchError(f"the engine did not start; the bench last said: {self.said}")

    async def turn(self, by: float) -> None:
        """Turn the distributor, and note how long the answer took [s]."""
        self._turned.clear()
        began = time.perf_counter()
        await self._act(control="distributor", by=by)
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._turned.wait(), ANSWERS_WITHIN_S)
        self.waits_s.append(time.perf_counter() - began)

    async def stop_engine(self) -> None:
        """Switch it off; the page stays open, with nothing to watch."""
        self._tasks.pop().cancel()
        await self._act(control="stop")

    async def close(self) -> None:
        """Leave the page, and end its program."""
        for task in self._tasks:
            task.cancel()
        self._socket.close()
        forgery = FORGERY.search(self.cookie)
        headers = {**self._headers, **({"X-XSRFToken": forgery[1]} if forgery else {})}
        request = HTTPRequest(self._address(f"api/kernels/{self._kernel}"), method="DELETE", headers=headers)
        client = AsyncHTTPClient(force_instance=True)
        await client.fetch(request)
        client.close()

    async def _act(self, **content: object) -> None:
        await self._send(content, self.bench)
        await self._ask()

    async def _ask(self) -> None:
        self.asked += 1
        await self._send({"heartbeat": self.asked}, self.bench)

    async def _watch(self) -> None:
        while True:
            await asyncio.sleep(HEARTBEAT_S)
            if self.running:
                await self._ask()

    async def _send(self, content: dict, model: str) -> None:
        header = {
            "msg_id": uuid.uuid4().hex,
            "session": self._session,
            "username": "",
            "date": time.strftime("%Y-%m-%dT%H:%M:%S.000Z", time.gmtime()),
            "msg_type": "comm_msg",
            "version": "5.3",
        }
        data = {"comm_id": model, "data": {"method": "custom", "content": content}}
        message = {"header": header, "parent_header": {}, "metadata": {}, "content": data}
        frame = serialize_msg_to_ws_v1(message, "shell", pack=lambda part: json.dumps(part).encode())
        await self._socket.write_message(frame, binary=True)

    async def _listen(self) -> None:
        """Take what comes, and read no more of it than has to be known: a generator of load must not be the load."""
        while (frame := await self._socket.read_message()) is not None:
            self.frames += 1
            wanted = (b'"history"', b'"settings"') if self.running else (b'"history"', b'"readings"')
            if isinstance(frame, str) or not any(part in frame for part in wanted):
                continue
            content = json.loads(deserialize_msg_from_ws_v1(frame)[1][3])
            data = content.get("data", {})
            if "history" in data.get("content", {}) and not self._bench.done():
                self._bench.set_result(content["comm_id"])
            state = data.get("state", {})
            self.said = state.get("said", {}).get("sentence", self.said)
            if "readings" in state and not self.running:
                self.running = state["readings"]["running"]
            if "settings" in state and "readings" in state:
                self._turned.set()
