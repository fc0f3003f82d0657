"""The filter of calls to the kernel of Linux: what its program refuses and lets through, by itself and in the box."""

from __future__ import annotations

import json
import platform
import re
import struct
import subprocess
import sys
from pathlib import Path

import pytest

from graders.nbgrader_bridge import call_filter, sandbox
from graders.nbgrader_bridge.call_filter import REFUSED, program

HEADERS = {
    "x86_64": ("/usr/include/x86_64-linux-gnu/asm/unistd_64.h", r"#define __NR_(\w+) (\d+)"),
    "aarch64": ("/usr/include/asm-generic/unistd.h", r"#define __NR(?:3264)?_(\w+) (\d+)"),
}
NAMES = {"x86_64": 0xC000003E, "aarch64": 0xC00000B7}
ALLOWED, NOT_PERMITTED = 0x7FFF0000, 0x00050001
# Calls that nobody needs a right for, with arguments with which they succeed, or fail otherwise than "not permitted".
HARMLESS = {"ptrace": (0, 0, 0, 0), "memfd_create": (b"x", 0), "shmget": (0, 4096, 0o600), "unshare": (0,)}
TRY = """
import ctypes, json, os
libc, found = ctypes.CDLL(None, use_errno=True), {}
for name, (number, given) in json.loads(%r).items():
    given = [one.encode() if isinstance(one, str) else one for one in given]
    ctypes.set_errno(0)
    libc.syscall(number, *given)
    found[name] = ctypes.get_errno()
print(found)
"""


def answered(steps: bytes, machine: int, number: int) -> int:
    """What a filter says of one call, by the rules of the kernel's manual for its four kinds of step."""
    at, held = 0, 0
    read = [struct.unpack_from("=HBBI", steps, 8 * place) for place in range(len(steps) // 8)]
    while True:
        kind, yes, no, value = read[at]
        at += 1
        if kind == 0x20:
            held = {0: number, 4: machine}[value]
        elif kind == 0x15:
            at += yes if held == value else no
        elif kind == 0x35:
            at += yes if held >= value else no
        else:
            assert kind == 0x06
            return value


@pytest.mark.parametrize("machine", NAMES)
def test_the_program_refuses_the_table_and_nothing_else(machine):
    """Of all numbers those of the table; by another machine's numbers, and by those of x32, everything."""
    steps, place = program(machine), list(NAMES).index(machine)
    refused = {number for number in range(1000) if answered(steps, NAMES[machine], number) == NOT_PERMITTED}
    assert refused == {numbers[place] for numbers in REFUSED.values()}
    others = {answered(steps, NAMES[machine], number) for number in set(range(1000)) - refused}
    assert others == {ALLOWED}
    assert answered(steps, NAMES[machine], 0x40000001) == NOT_PERMITTED
    assert {answered(steps, 0x40000003, number) for number in range(1000)} == {NOT_PERMITTED}
    assert program("another machine") == b""


@pytest.mark.parametrize("machine", HEADERS)
def test_the_numbers_are_those_of_the_kernel_s_headers(machine):
    """Each name of the table has the number that the header gives it, where this computer has that header."""
    header, pattern = HEADERS[machine]
    if not Path(header).is_file():
        pytest.skip(f"no {header} on this computer")
    known, place = dict(re.findall(pattern, Path(header).read_text(encoding="utf-8"))), list(HEADERS).index(machine)
    ours = {name: str(numbers[place]) for name, numbers in REFUSED.items() if name in known}
    assert ours == {name: known[name] for name in ours}
    assert len(ours) > 0.9 * len(REFUSED)  # an old header lacks the newest


def errors_in_the_box() -> dict[str, int]:
    """The number of the error of each harmless call, made in a box."""
    place = list(HEADERS).index(platform.machine())
    tried = {
        name: (REFUSED[name][place], [one.decode() if isinstance(one, bytes) else one for one in given])
        for name, given in HARMLESS.items()
    }
    command = sandbox.boxed([sys.executable, "-I", "-S", "-c", TRY % json.dumps(tried)], sandbox.Limits())
    done = subprocess.run(command, capture_output=True, text=True, timeout=60.0, check=True, env={})
    return dict(re.findall(r"'(\w+)': (\d+)", done.stdout))


@pytest.mark.skipif(bool(sandbox.why_no_box()), reason=sandbox.why_no_box() or "there is a box")
@pytest.mark.skipif(platform.machine() not in HEADERS, reason="the numbers of this machine's calls are not known")
def test_in_the_box_they_fail_as_not_permitted(monkeypatch):
    """Calls that succeed in a box without the filter fail in one with it, and an ordinary program runs."""
    assert set(errors_in_the_box().values()) == {"1"}
    monkeypatch.setattr(call_filter, "program", lambda: b"")
    assert set(errors_in_the_box().values()) == {"0"}
