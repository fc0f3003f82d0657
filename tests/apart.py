"""Run what may not run where a browser test has left its event loop: in a thread of its own."""

import asyncio
from concurrent.futures import ThreadPoolExecutor


def run_apart(coroutine):
    """What the coroutine returns, from an event loop in a thread of its own; what it raises, here."""
    with ThreadPoolExecutor(1) as apart:
        return apart.submit(asyncio.run, coroutine).result()
