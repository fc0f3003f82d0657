"""An instructor's own code exercises, run in a kernel inside a box; the course's own lessons never come here.

A lesson that has no rubric is one that an instructor added in nbgrader's stock way, with test cells that are executed.
`CodeInBox` is the step that does it. The kernel talks through files in a folder that box and computer share, since the
box has no network; the client that sends the cells and keeps their outputs stays outside, so that nothing in the box
can change which cell is run or whose output is whose.
"""

from __future__ import annotations

import atexit
import math
import re
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path

import nbformat
import zmq
import zmq.asyncio
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient
from nbclient.exceptions import CellControlSignal, DeadKernelError
from nbformat import NotebookNode
from nbgrader import utils
from nbgrader.preprocessors import NbGraderPreprocessor
from traitlets import Float, Integer

from .box import Limits, Watch, boxed, end_box, why_no_box
from .nbgrader_bridge import RECORD

LARGEST_MESSAGE_BYTES = 4_000_000
STARTUP_S = 60
SHOWN_KINDS = ("text/plain", "image/png")
_TERMINAL_COLOURS = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")


class BoxedKernelManager(AsyncKernelManager):
    """Starts this Python's own kernel in a box, whatever kernel a notebook names."""

    def __init__(self, shared: Path, files: Path | None, limits: Limits, **kwargs):
        context = zmq.asyncio.Context()
        context.setsockopt(zmq.MAXMSGSIZE, LARGEST_MESSAGE_BYTES)
        super().__init__(transport="ipc", ip=str(shared / "k"), connection_file=str(shared / "c.json"),
                         context=context, **kwargs)
        command = [sys.executable, "-P", "-m", "ipykernel_launcher", "-f", self.connection_file]
        self._kernel_spec = KernelSpec(argv=boxed(command, limits, shared, files), language="python",
                                       display_name="Boxed", interrupt_mode="message")

    @property
    def outermost(self) -> int | None:
        """The id of the box's outermost process while it runs."""
        process = getattr(self.provisioner, "process", None)
        return process.pid if process is not None and process.poll() is None else None


class BoxedClient(NotebookClient):
    """Sends the cells one by one; keeps which were run to their end, and stops where outputs grow without end."""

    def __init__(self, nb: NotebookNode, most_output_bytes: int, **kwargs):
        super().__init__(nb, allow_errors=True, store_widget_state=False, **kwargs)
        self.most_output_bytes = most_output_bytes
        self.finished: set[int] = set()
        self.watch: Watch | None = None
        self._output_bytes = 0
        self.on_cell_executed = lambda cell, cell_index, execute_reply: self.finished.add(cell_index)

    def process_message(self, msg, cell, cell_index):
        """Take one message of the kernel, unless there were too many already."""
        if msg["msg_type"] in ("stream", "display_data", "execute_result", "error", "update_display_data"):
            self._output_bytes += len(str(msg["content"]))
            if self._output_bytes > self.most_output_bytes:
                self.watch.end(f"The notebook printed more than {self.most_output_bytes // 1000} kB and was ended.")
                return None
        return super().process_message(msg, cell, cell_index)


def run_in_box(nb: NotebookNode, files: Path | None, limits: Limits, cell_seconds: float,
               most_output_bytes: int) -> tuple[str, set[int]]:
    """Run the notebook's code cells in a box and leave their outputs in them, plain text and pictures alone.

    Returns one sentence where the box had to be ended or ended itself, or nothing; and the places of the cells that
    ran to their end. `files` is the folder whose files the code may read. Raises nothing for what the code does.
    """
    with tempfile.TemporaryDirectory(prefix="box-", ignore_cleanup_errors=True) as name:
        shared = Path(name).resolve()
        manager = BoxedKernelManager(shared, files, limits)
        client = BoxedClient(nb, most_output_bytes, km=manager, timeout=cell_seconds, interrupt_on_timeout=True,
                             startup_timeout=STARTUP_S, error_on_timeout={
                                 "ename": "TimeoutError", "evalue": f"longer than {cell_seconds:g} seconds",
                                 "traceback": [f"The cell ran for more than {cell_seconds:g} seconds."]})
        with Watch(lambda: manager.outermost, limits, shared) as watch, _ended_for_sure(manager):
            client.watch = watch
            try:
                client.execute(cleanup_kc=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                reason = watch.reason
            except (DeadKernelError, CellControlSignal, RuntimeError, OSError) as error:
                reason = watch.reason or f"The notebook ended its own kernel ({type(error).__name__})."
            finally:
                atexit.unregister(client._cleanup_kernel)  # nbclient leaves it behind where a kernel did not start
    for cell in nb.cells:
        if cell.cell_type == "code":
            cell.outputs = [shown for shown in map(_shown, cell.outputs) if shown]
            cell.metadata.pop("execution", None)
    return reason, client.finished


@contextmanager
def _ended_for_sure(manager: BoxedKernelManager):
    try:
        yield
    finally:
        outermost = manager.outermost
        if outermost is not None:
            end_box(outermost)
            manager.provisioner.process.wait()
        manager.context.destroy(linger=0)


def _shown(output: NotebookNode) -> NotebookNode | None:
    """An output with nothing in it that a page could run."""
    if output.output_type == "stream":
        return nbformat.v4.new_output("stream", name="stderr" if output.name == "stderr" else "stdout",
                                      text=_plain(output.text))
    if output.output_type == "error":
        return nbformat.v4.new_output("error", ename=_plain(output.ename)[:200], evalue=_plain(output.evalue)[:2000],
                                      traceback=[_plain(line) for line in output.traceback])
    data = {kind: output.data[kind] for kind in SHOWN_KINDS if isinstance(output.get("data", {}).get(kind), str)}
    if not data:
        return None
    count = {"execution_count": None} if output.output_type == "execute_result" else {}
    return nbformat.v4.new_output(output.output_type, data, **count)


def _plain(text) -> str:
    return _TERMINAL_COLOURS.sub("", str(text))


class CodeInBox(NbGraderPreprocessor):
    """Runs lessons without a rubric in a box, so that their test cells show what they found.

    nbgrader gives full points to a test cell that shows no error: so each cell that was not run to its end gets one.
    Where there is no box, nothing is run, every test cell gets an error, and a person is asked.
    """

    cell_seconds = Float(30.0, help="Seconds that one cell may take.").tag(config=True)
    notebook_seconds = Float(120.0, help="Seconds that a whole notebook may take.").tag(config=True)
    memory_mb = Integer(2000, help="Memory of the box, and of each process in it [MB].").tag(config=True)
    processes = Integer(64, help="Processes in the box.").tag(config=True)
    disk_mb = Integer(100, help="Size of each of the box's temporary folders [MB].").tag(config=True)
    output_kb = Integer(1000, help="Outputs of a whole notebook [kB].").tag(config=True)

    def preprocess(self, nb, resources):
        record = nb.metadata.get(RECORD, {})
        if not record.get("runs_code"):
            return nb, resources
        problem, reason, finished = why_no_box(), "", set()
        for cell in filter(_is_test, nb.cells):
            cell.outputs = []  # the judge's word, which stands there for a class without this step
        if not problem:
            limits = Limits(self.notebook_seconds, self.memory_mb, self.processes, self.disk_mb)
            files = Path(resources["metadata"]["path"]).resolve()
            reason, finished = run_in_box(nb, files, limits, self.cell_seconds, self.output_kb * 1000)
        settle(nb, finished, problem or reason)
        record |= {"problem": problem, "problem_kind": "no box" if problem else "",
                   "key": f"{record['key']} without a box" if problem else record["key"],
                   "remarks": [*record["remarks"], *([reason] if reason else [])],
                   "exercises": {cell.metadata.nbgrader.grade_id: _found(cell, problem)
                                 for cell in filter(utils.is_grade, nb.cells)}}
        nb.metadata[RECORD] = record
        return nb, resources


def settle(nb: NotebookNode, finished: set[int], reason: str) -> None:
    """Give every test cell an output that nbgrader reads as it is meant: an error where the cell was not run to its
    end, and a number of points only within the cell's own range."""
    for place, cell in enumerate(nb.cells):
        if not _is_test(cell):
            continue
        if place not in finished:
            sentence = reason or "This cell was not run."
            cell.outputs.insert(0, nbformat.v4.new_output("error", ename="NotRun", evalue=sentence,
                                                          traceback=[sentence]))
        else:
            _clamp_number(cell)


def _clamp_number(cell: NotebookNode) -> None:
    """nbgrader throws all of a learner's grades away for a number above the maximum: bring it into the range."""
    output = cell.outputs[0] if cell.outputs else None
    if output is None or output.output_type != "execute_result":
        return
    try:
        points = float(output.data.get("text/plain", ""))
    except ValueError:
        return
    most = float(cell.metadata.nbgrader["points"])
    output.data["text/plain"] = repr(min(max(points, 0.0), most) if math.isfinite(points) else 0.0)


def _is_test(cell: NotebookNode) -> bool:
    return cell.cell_type == "code" and utils.is_grade(cell) and not utils.is_solution(cell)


def _found(cell: NotebookNode, problem: str) -> dict:
    """What a class run and the learner's page read of one graded cell."""
    marks, by_hand = cell.metadata.nbgrader, utils.is_solution(cell)
    points = 0.0 if by_hand else float(utils.determine_grade(cell)[0] or 0.0)
    changed = by_hand and utils.compute_checksum(cell) != marks.get("checksum")
    waits = problem or ("an answer to be marked" if changed else "")
    return {"title": marks.grade_id, "points": points, "max_points": float(marks.points), "needs_person": waits,
            "answered": changed or not by_hand, "said": "" if by_hand else _said(cell, points)}


def _said(cell: NotebookNode, points: float) -> str:
    """What the learner's page says of a test cell: the error's own words, and no line of the test."""
    errors = [output for output in cell.outputs if output.output_type == "error"]
    if errors:
        return f"{errors[0].ename}: {errors[0].evalue}"[:500]
    return "The test ran to its end." if points else "The test earned nothing."
