"""`python -m tests.hub.namespace python -m tests.hub.load LEARNERS`: a room of so many learners at work at once.

Each learner logs in, opens the lesson, starts the engine and turns the distributor every other second, by the same
messages as the page sends; a browser for each would be all that this machine does. It prints, and judges nothing by the
clock: memory and processor time of the room alone, and how long it takes from a key to the needle, for a page at rest,
at an engine that stands, and at one that runs.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import re
import resource
import shutil
import sys
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path

import aiohttp

from course.hub.command import run
from course.hub.room import Room
from tests.browser.conftest import MADE_READY
from tests.hub.namespace import PROXY

LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
AT_ONCE = 3
PHASE_S = 30.0
TURNS = (0.25, -0.25)
FOLDER = Path("/srv/spring")


@dataclass
class Learner:
    """One learner's connection to the program behind the page."""

    name: str
    password: str
    here: str
    session: aiohttp.ClientSession
    socket: aiohttp.ClientWebSocketResponse | None = None
    bench: str = ""
    came: int = 0
    waits_ms: list[float] = field(default_factory=list)
    _asked: dict[str, asyncio.Future] = field(default_factory=dict)
    _needle: asyncio.Future | None = None

    async def open(self) -> None:
        """Log in, wait for the own server, open the lesson, and find its bench."""
        async with self.session.get(f"{self.here}hub/login") as page:
            token = re.search(r'name="_xsrf" value="([^"]+)"', await page.text())[1]
        form = {"_xsrf": token, "username": self.name, "password": self.password}
        async with self.session.post(f"{self.here}hub/login", data=form) as page:
            assert page.status == 200, page.status
        own = f"{self.here}user/{self.name}/"
        while True:
            async with self.session.get(own) as page:
                if page.status == 200 and page.url.path == f"/user/{self.name}/":
                    break
            await asyncio.sleep(1.0)
        async with self.session.get(f"{own}lesson/{LESSON}") as page:
            text = await page.text()
        kernel = re.search(r'"kernelId": ?"([^"]+)"', text)[1]
        models = re.findall(r'"model_id": ?"([^"]+)"', text)
        address = f"{own}api/kernels/{kernel}/channels?session_id={uuid.uuid4()}"
        self.socket = await self.session.ws_connect(address, max_msg_size=0)
        self._listening = asyncio.create_task(self._listen())
        for model in models:
            state = await self._state(model)
            if state.get("exercise") == BENCH and "readings" in state:
                self.bench = model
        assert self.bench, f"{self.name} has no bench among {len(models)} parts"

    async def _state(self, model: str) -> dict:
        self._asked[model] = asyncio.get_running_loop().create_future()
        await self._send(model, {"method": "request_state"})
        state = await asyncio.wait_for(self._asked[model], 120)
        del self._asked[model]
        return state

    async def _send(self, model: str, data: dict) -> None:
        header = {"msg_id": uuid.uuid4().hex, "username": "", "session": "load", "msg_type": "comm_msg"}
        header |= {"version": "5.3", "date": "2026-01-05T09:00:00Z"}
        content = {"comm_id": model, "data": data}
        message = {"header": header, "parent_header": {}, "metadata": {}, "content": content, "buffers": []}
        await self.socket.send_str(json.dumps({**message, "channel": "shell"}))

    async def custom(self, content: dict) -> None:
        """Send what the page's bench sends."""
        await self._send(self.bench, {"method": "custom", "content": content})

    async def _listen(self) -> None:
        async for message in self.socket:
            self.came += 1
            found = json.loads(_text_of(message.data))
            if found.get("msg_type") != "comm_msg" or found["content"]["data"].get("method") != "update":
                continue
            model, state = found["content"]["comm_id"], found["content"]["data"]["state"]
            if model in self._asked and not self._asked[model].done():
                self._asked[model].set_result(state)
            if model == self.bench and self._needle and "settings" in state and not self._needle.done():
                self._needle.set_result(time.perf_counter())

    async def beat(self, until: float) -> None:
        """Ask once a second whether the program answers, as a page does."""
        number = 0
        while time.perf_counter() < until:
            number += 1
            await self.custom({"heartbeat": number})
            await asyncio.sleep(1.0)

    async def make_ready(self) -> None:
        """Everything up to the running engine."""
        for control, value in MADE_READY:
            await self.custom({"control": control, "value": value})
        await self.custom({"control": "starter"})
        await self.custom({"control": "clamp", "value": "loose"})

    async def turn(self, until: float) -> None:
        """Turn to and fro, and note how long each needle takes."""
        number = 0
        await asyncio.sleep(random.random() * 2.0)
        while time.perf_counter() < until:
            number += 1
            self._needle = asyncio.get_running_loop().create_future()
            began = time.perf_counter()
            await self.custom({"control": "distributor", "by": TURNS[number % 2]})
            self.waits_ms.append(1000 * (await asyncio.wait_for(self._needle, 30) - began))
            await asyncio.sleep(2.0)


def _text_of(data: str | bytes) -> str | bytes:
    """The text of a message; one with files in it is a table of places, the text first."""
    if isinstance(data, str):
        return data
    begins, ends = (int.from_bytes(data[at : at + 4], "big") for at in (4, 8))
    return data[begins:ends]


def programs() -> dict[str, list[int]]:
    """The processes of the room, by kind."""
    kinds: dict[str, list[int]] = {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            words = (place / "cmdline").read_bytes().decode(errors="replace").replace("\0", " ")
        except OSError:
            continue
        for kind, sign in (
            ("server", "course.hub.learner_server"),
            ("kernel", "ipykernel_launcher"),
            ("hub", "-m jupyterhub"),
            ("proxy", "configurable-http-proxy"),
            ("desk", "course.hub.desk"),
        ):
            if sign in words:
                kinds.setdefault(kind, []).append(int(place.name))
    return kinds


def memory_mb(numbers: list[int]) -> float:
    """Memory of these processes, what they share divided among all that share it [MB]."""
    total = 0.0
    for number in numbers:
        text = Path(f"/proc/{number}/smaps_rollup").read_text(encoding="ascii")
        total += int(re.search(r"^Pss: +(\d+)", text, re.MULTILINE)[1]) / 1024
    return total


def processor_s(numbers: list[int]) -> float:
    """Processor time that these processes have had [s]."""
    ticks = 0
    for number in numbers:
        parts = Path(f"/proc/{number}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        ticks += int(parts[11]) + int(parts[12])
    return ticks / os.sysconf("SC_CLK_TCK")


async def phase(what: str, learners: list[Learner], doing) -> None:
    """Let all do something for a while, and print what it cost."""
    kinds = programs()
    before = {kind: processor_s(numbers) for kind, numbers in kinds.items()}
    own, came, began = time.process_time(), sum(one.came for one in learners), time.perf_counter()
    until = began + PHASE_S
    await asyncio.gather(*(doing(one, until) for one in learners))
    await asyncio.sleep(max(until - time.perf_counter(), 0))
    lasted = time.perf_counter() - began
    cost = {kind: 100 * (processor_s(kinds[kind]) - spent) / lasted for kind, spent in before.items()}
    each = (cost.get("server", 0) + cost.get("kernel", 0)) / len(learners)
    shared = ", ".join(f"{kind} {cost[kind]:.1f} %" for kind in ("hub", "proxy", "desk") if kind in cost)
    print(
        f"{what}: {each:.2f} % of a processor a learner (server and kernel), {shared}, "
        f"{(sum(one.came for one in learners) - came) / lasted / len(learners):.1f} messages a second a learner; "
        f"the load itself {100 * (time.process_time() - own) / lasted:.0f} %",
        flush=True,
    )


async def work(room: Room, passwords: dict[str, str]) -> None:
    """The whole load."""
    gate = asyncio.Semaphore(AT_ONCE)
    learners = []
    for name, password in passwords.items():
        jar = aiohttp.CookieJar(unsafe=True)
        timeout = aiohttp.ClientTimeout(total=300)
        learners.append(Learner(name, password, room.here, aiohttp.ClientSession(cookie_jar=jar, timeout=timeout)))

    async def opened(one: Learner) -> None:
        async with gate:
            await one.open()

    began = time.perf_counter()
    await asyncio.gather(*map(opened, learners))
    print(f"{len(learners)} learners have the lesson open after {time.perf_counter() - began:.0f} s", flush=True)
    await phase("page at rest", learners, lambda one, until: one.beat(until))
    await asyncio.gather(*(one.make_ready() for one in learners))
    await asyncio.sleep(5)

    async def works(one: Learner, until: float) -> None:
        await asyncio.gather(one.beat(until), one.turn(until))

    await phase("engine running, a turn every two seconds", learners, works)
    waits = sorted(wait for one in learners for wait in one.waits_ms)
    middle, most = waits[len(waits) // 2], waits[int(0.95 * len(waits))]
    print(f"key to needle: median {middle:.0f} ms, 95 of 100 within {most:.0f} ms")
    kinds = programs()
    each = memory_mb([*kinds["server"], *kinds["kernel"]]) / len(learners)
    print(
        f"memory: {each:.0f} MB a learner (server {memory_mb(kinds['server']) / len(learners):.0f}, kernel "
        f"{memory_mb(kinds['kernel']) / len(learners):.0f}), "
        + ", ".join(f"{kind} {memory_mb(kinds[kind]):.0f} MB" for kind in ("hub", "proxy", "desk"))
    )
    await asyncio.gather(*(one.custom({"control": "stop"}) for one in learners))
    await phase("engine stopped", learners, lambda one, until: one.beat(until))
    print(f"average of programs waiting for a processor: {os.getloadavg()[0]:.1f}, on {os.cpu_count()} processors")
    for one in learners:
        one._listening.cancel()
        await one.session.close()


def main() -> int:
    """Open a room for as many learners as were asked for, and load it."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))
    (FOLDER / "hub").mkdir(parents=True)
    shutil.copytree(PROXY, FOLDER / "hub" / "proxy", symlinks=True)
    roster = Path("/srv/list.csv")
    names = [f"learner{number:02}" for number in range(1, count + 1)]
    roster.write_text("id\n" + "\n".join(names) + "\n", encoding="utf-8")
    run("start", FOLDER, roster, {"instructors": ("ines",)})
    room = Room.of(FOLDER)
    from tests.hub.conftest import Running

    Running(room, None).hand_out(LESSON)
    passwords = Running(room, None).passwords
    try:
        asyncio.run(work(room, {name: passwords[name] for name in names}))
    finally:
        run("stop", FOLDER)
    return 0


if __name__ == "__main__":
    sys.exit(main())
