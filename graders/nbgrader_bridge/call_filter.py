"""The calls to the kernel of Linux that code in the box is refused, as the filter program (seccomp) that refuses them.

Refused is what no lesson needs: what looks into other processes, what the kernel's own faults were often found behind,
and what holds memory that the watch over the box would not see. Such a call fails as one that is not permitted. The
numbers are those of the kernel's headers, `asm/unistd_64.h` and `asm-generic/unistd.h`.
"""

from __future__ import annotations

import platform
import struct

NOT_PERMITTED = 1  # EPERM
# Name -> number on x86_64, number on aarch64.
REFUSED = {
    # other processes
    "ptrace": (101, 117),
    "process_vm_readv": (310, 270),
    "process_vm_writev": (311, 271),
    "pidfd_getfd": (438, 438),
    "kcmp": (312, 272),
    # memory that belongs to no process
    "memfd_create": (319, 279),
    "memfd_secret": (447, 447),
    "shmget": (29, 194),
    "msgget": (68, 186),
    "semget": (64, 190),
    # wide doors into the kernel
    "bpf": (321, 280),
    "perf_event_open": (298, 241),
    "io_uring_setup": (425, 425),
    "io_uring_enter": (426, 426),
    "io_uring_register": (427, 427),
    "userfaultfd": (323, 282),
    "vmsplice": (278, 75),
    "add_key": (248, 217),
    "request_key": (249, 218),
    "keyctl": (250, 219),
    # other views of the files, other boxes
    "mount": (165, 40),
    "umount2": (166, 39),
    "pivot_root": (155, 41),
    "move_mount": (429, 429),
    "open_tree": (428, 428),
    "fsopen": (430, 430),
    "fsconfig": (431, 431),
    "fsmount": (432, 432),
    "fspick": (433, 433),
    "mount_setattr": (442, 442),
    "open_by_handle_at": (304, 265),
    "unshare": (272, 97),
    "setns": (308, 268),
    # the computer as a whole
    "swapon": (167, 224),
    "swapoff": (168, 225),
    "reboot": (169, 142),
    "kexec_load": (246, 104),
    "kexec_file_load": (320, 294),
    "init_module": (175, 105),
    "finit_module": (313, 273),
    "delete_module": (176, 106),
    "acct": (163, 89),
    "quotactl": (179, 60),
    "syslog": (103, 116),
    "settimeofday": (164, 170),
    "clock_settime": (227, 112),
    "sethostname": (170, 161),
    "setdomainname": (171, 162),
    "fanotify_init": (300, 262),
}
# Machine -> its place in the table, and how the kernel names it to a filter (AUDIT_ARCH_…).
_MACHINES = {"x86_64": (0, 0xC000003E), "aarch64": (1, 0xC00000B7)}
_X32 = 0x40000000  # numbers from here on are the same calls of x86_64 once more
# Where call and machine stand in what a filter sees of a call.
_NUMBER_AT = 0
_MACHINE_AT = 4
# The filter's own instructions, and its two answers.
_LOAD = 0x20
_IF_EQUAL = 0x15
_IF_AT_LEAST = 0x35
_RETURN = 0x06
_ALLOW = 0x7FFF0000
_REFUSE = 0x00050000 | NOT_PERMITTED


def program(machine: str | None = None) -> bytes:
    """The filter for a machine (this one) as the kernel takes it; empty where the numbers of its calls are not known.

    Calls by another machine's numbers, as a 32-bit program makes them, are all refused.
    """
    machine = platform.machine() if machine is None else machine
    if machine not in _MACHINES:
        return b""
    place, name = _MACHINES[machine]
    numbers = [number[place] for number in REFUSED.values()]
    left = len(numbers)  # comparisons between here and the two ends
    steps = [
        (_LOAD, 0, 0, _MACHINE_AT),
        (_IF_EQUAL, 0, left + 3, name),
        (_LOAD, 0, 0, _NUMBER_AT),
        (_IF_AT_LEAST, left + 1, 0, _X32),
        *((_IF_EQUAL, left - done, 0, number) for done, number in enumerate(numbers)),
        (_RETURN, 0, 0, _ALLOW),
        (_RETURN, 0, 0, _REFUSE),
    ]
    return b"".join(struct.pack("=HBBI", *step) for step in steps)
