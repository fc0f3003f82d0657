"""An instructor's own code exercises, run in a kernel inside a box; the course's own lessons never come here.

A lesson that has no rubric is one that an instructor added in nbgrader's stock way, with test cells that are executed.
`CodeInBox` is the step that does it. The kernel talks through files in a folder that box and computer share, since the
box has no network; the client that sends the cells and keeps their outputs stays outside, so that nothing in the box
can change which cell is run or whose output is whose.
"""

from __future__ import annotations

import asyncio
import builtins
import math
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import nbformat
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient
from nbclient.exceptions import CellControlSignal, DeadKernelError
from nbformat import NotebookNode
from nbgrader import utils
from nbgrader.preprocessors import ClearHiddenTests, NbGraderPreprocessor
from traitlets import Float, Integer

from engine_sim import TimingCourseError

from .judge_step import RECORD, shortened
from .sandbox import Limits, Watch, boxed, end_box, why_no_box

STARTUP_S = 60
OUTPUTS_BEHIND_S = 10  # that the last outputs of a cell may come after the kernel's reply
SHOWN_KINDS = ("text/plain", "image/png")
ADDS_OUTPUT = ("stream", "display_data", "execute_result", "error")
NO_NUMBER = "The test cell ended in a value that is not a number of points."
_BY_TIME = "ended by time"
_COMMON_ERRORS = {
    name for name, value in vars(builtins).items() if isinstance(value, type) and issubclass(value, BaseException)
}
_TERMINAL_COLOURS = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")


class BoxedKernelManager(AsyncKernelManager):
    """Starts this Python's own kernel in a box; the kernel that a notebook names does not count."""

    def __init__(self, shared: Path, files: Path | None, limits: Limits, **kwargs):
        super().__init__(transport="ipc", ip=str(shared / "k"), connection_file=str(shared / "c.json"), **kwargs)
        command = [sys.executable, "-P", "-m", "ipykernel_launcher", "-f", self.connection_file]
        self._boxed = KernelSpec(
            argv=boxed(command, limits, shared, files),
            language="python",
            display_name="Boxed",
            interrupt_mode="message",
        )

    @property
    def kernel_spec(self) -> KernelSpec:
        """How the kernel is started."""
        return self._boxed

    @property
    def outermost(self) -> int | None:
        """The id of the box's outermost process while it runs."""
        process = getattr(self.provisioner, "process", None)
        return process.pid if process is not None and process.poll() is None else None


class BoxedClient(NotebookClient):
    """Sends the cells one by one, notes which ran to their end, and stops where outputs grow without end.

    A cell ran to its end if the kernel replied to its request and reported itself idle after the outputs. `ended` holds
    a sentence for each cell that was sent and did not get there, by the cell's place.
    """

    def __init__(self, nb: NotebookNode, most_output_bytes: int, cell_seconds: float, **kwargs):
        self.late = f"The cell did not end within {cell_seconds:g} s and was stopped."
        super().__init__(
            nb,
            allow_errors=True,
            store_widget_state=False,
            timeout=math.ceil(cell_seconds),  # whole seconds: an older nbclient takes no others
            interrupt_on_timeout=True,
            error_on_timeout={_BY_TIME: True},
            **kwargs,
        )
        self.most_output_bytes = most_output_bytes
        self.finished: set[int] = set()
        self.ended: dict[int, str] = {}
        self.watch: Watch | None = None
        self._output_bytes = 0
        self._idle_again = False
        self.on_cell_execute = self._sent
        self.on_cell_executed = self._answered

    async def start_and_execute(self) -> None:
        """Start the kernel, send the cells, end the kernel.

        async_execute would start it, too, but leaves a reference to this client behind, for the end of the program,
        where a kernel does not start.
        """
        await self.async_start_new_kernel(stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        await self.async_start_new_kernel_client()
        await self.async_execute(cleanup_kc=True)

    def _sent(self, cell, cell_index) -> None:
        self._idle_again = False
        self.ended[cell_index] = "The cell left no result, because the kernel was ended while it ran."

    def _answered(self, cell, cell_index, execute_reply) -> None:
        said = execute_reply["content"]
        if _BY_TIME in said:  # nbclient puts this in place of the reply that did not come
            self.ended[cell_index] = self.late
        elif said.get("status") in ("ok", "error") and self._idle_again and not self.has_overflowed:
            self.finished.add(cell_index)
            del self.ended[cell_index]
            if said["status"] == "error":
                _show_failure(cell, said)
        else:
            self.ended[cell_index] = "The cell left no result, because the kernel never reported its end."

    @property
    def has_overflowed(self) -> bool:
        """Whether there was too much output, so that some of it was left out."""
        return self._output_bytes > self.most_output_bytes

    def process_message(self, msg: dict, cell: NotebookNode, cell_index: int) -> NotebookNode | None:
        """Take one message of the kernel that adds an output, unless there was too much output already.

        Messages that remove or redirect outputs (clear_output, widgets) are left out, because nbgrader gives all points
        to a test cell without output.
        """
        if msg["msg_type"] in ADDS_OUTPUT:
            self._output_bytes += len(str(msg["content"]))
            if self.has_overflowed:
                self.watch.end(f"The notebook printed more than {self.most_output_bytes // 1000} kB and was ended.")
                return None
        elif msg["msg_type"] not in ("status", "execute_input"):
            return None
        self._idle_again = msg["msg_type"] == "status" and msg["content"].get("execution_state") == "idle"
        return super().process_message(msg, cell, cell_index)


class BoxNotStarted(TimingCourseError):
    """The kernel in the box did not start, so no cell was run. The fault lies in this computer, not in the hand-in."""


def run_in_box(
    nb: NotebookNode, files: Path | None, limits: Limits, cell_seconds: float, most_output_bytes: int
) -> tuple[str, set[int]]:
    """Run the notebook's code cells in a box and leave their outputs in them, plain text and pictures alone.

    Returns one sentence where the box had to be ended or ended itself, or nothing; and the places of the cells that
    ran to their end, failed or not. A cell that was sent and did not get there has an error as its first output.
    `files` is the folder whose files the code may read. Raises BoxNotStarted where no cell could be sent, and nothing
    for what the code does.
    """
    with tempfile.TemporaryDirectory(prefix="box-", ignore_cleanup_errors=True) as name:
        shared = Path(name).resolve()
        manager = BoxedKernelManager(shared, files, limits)
        client = BoxedClient(
            nb, most_output_bytes, cell_seconds, km=manager, startup_timeout=STARTUP_S, iopub_timeout=OUTPUTS_BEHIND_S
        )
        with (
            Watch(lambda: manager.outermost, limits, shared) as watch,
            _ended_for_sure(manager),
            ThreadPoolExecutor(1) as elsewhere,
        ):
            client.watch = watch
            # In the main thread nbclient would take Ctrl+C for itself, and it would cost this hand-in its verdict.
            executed = elsewhere.submit(asyncio.run, client.start_and_execute())
            try:
                executed.result()
                reason = watch.reason
            except KeyboardInterrupt:
                watch.end("The class run was interrupted.")
                raise
            except (DeadKernelError, CellControlSignal, RuntimeError, OSError) as error:
                if not (client.finished or client.ended):
                    raise BoxNotStarted(
                        f"The kernel in the box did not start ({watch.reason or type(error).__name__}). This is no "
                        "fault of the work: run this again when the computer is less busy."
                    ) from error
                reason = watch.reason or f"The notebook ended its own kernel ({type(error).__name__})."
    for cell in nb.cells:
        if cell.cell_type == "code":
            cell.outputs = [shown for shown in map(_shown, cell.outputs) if shown]
            cell.metadata.pop("execution", None)
    for place, sentence in client.ended.items():
        _show_first(nb.cells[place], "TimeoutError" if sentence == client.late else "NoResult", sentence)
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


def _show_failure(cell: NotebookNode, said: dict) -> None:
    """Put the failure in the kernel's reply before the outputs, unless nbgrader already finds one in them."""
    if _read_by_nbgrader(cell) in ("", "execute_result"):
        _show_first(cell, str(said.get("ename")), str(said.get("evalue")), [*map(str, said.get("traceback") or ())])


def _read_by_nbgrader(cell: NotebookNode) -> str:
    """The kind of the output that nbgrader goes by: "error" or "stderr", for which it gives nothing, "execute_result",
    or nothing."""
    kinds = (one.name if one.output_type == "stream" else one.output_type for one in cell.outputs)
    return next((kind for kind in kinds if kind in ("error", "stderr", "execute_result")), "")


def _show_first(cell: NotebookNode, name: str, sentence: str, traceback: list[str] | None = None) -> None:
    cell.outputs.insert(
        0,
        nbformat.v4.new_output(
            "error", ename=name, evalue=sentence, traceback=[sentence] if traceback is None else traceback
        ),
    )


def _shown(output: NotebookNode) -> NotebookNode | None:
    """An output with nothing in it that a page could run."""
    if output.output_type == "stream":
        return nbformat.v4.new_output(
            "stream", name="stderr" if output.name == "stderr" else "stdout", text=_plain(output.text)
        )
    if output.output_type == "error":
        return nbformat.v4.new_output(
            "error",
            ename=_plain(output.ename)[:200],
            evalue=_plain(output.evalue)[:2000],
            traceback=[_plain(line) for line in output.traceback],
        )
    data = {kind: output.data[kind] for kind in SHOWN_KINDS if isinstance(output.get("data", {}).get(kind), str)}
    if not data and output.output_type == "execute_result":
        data = {"text/plain": ""}  # a result without text is no silence
    if not data:
        return None
    count = {"execution_count": None} if output.output_type == "execute_result" else {}
    return nbformat.v4.new_output(output.output_type, data, **count)


def _plain(text) -> str:
    return _TERMINAL_COLOURS.sub("", str(text))


class CodeInBox(NbGraderPreprocessor):
    """Runs lessons without a rubric in a box, so that their test cells show what they found.

    nbgrader gives full points to a test cell that shows no error: so each cell that was not run to its end, or ended
    in a value that is no number, gets one, and a person is asked. Where there is no box, nothing is run, every test
    cell gets an error, and a person is asked.
    """

    cell_seconds = Float(30.0, help="Seconds that one cell may take.").tag(config=True)
    notebook_seconds = Float(120.0, help="Seconds that a whole notebook may take.").tag(config=True)
    memory_mb = Integer(2000, help="Memory of the box, and of each process in it [MB].").tag(config=True)
    processes = Integer(64, help="Processes in the box.").tag(config=True)
    disk_mb = Integer(100, help="Size of each of the box's temporary folders [MB].").tag(config=True)
    output_kb = Integer(1000, help="Outputs of a whole notebook [kB].").tag(config=True)

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        record = nb.metadata.get(RECORD, {})
        if not record.get("runs_code"):
            return nb, resources
        problem, reason = why_no_box(), ""
        finished: set[int] = set()
        for cell in filter(_is_test, nb.cells):
            cell.outputs = []  # the judge's word, which stands there for a class without this step
        if not problem:
            limits = Limits(self.notebook_seconds, self.memory_mb, self.processes, self.disk_mb)
            files = Path(resources["metadata"]["path"]).resolve()
            try:
                reason, finished = run_in_box(nb, files, limits, self.cell_seconds, self.output_kb * 1000)
            except BoxNotStarted as error:
                problem = str(error)
        unsettled = settle(nb, finished, problem or reason)
        secret = _from_first_hidden_test(nb, ClearHiddenTests(parent=self.parent).begin_test_delimeter)
        remarks = [] if problem else _remarks(unsettled)
        if reason and not any(reason in remark for remark in remarks):
            remarks.append(reason)
        record |= {
            "problem": problem,
            "problem_kind": "no box" if problem else "",
            "key": f"{record['key']} without a box" if problem else record["key"],
            "remarks": [*record["remarks"], *map(shortened, remarks)],
            "exercises": {
                cell.metadata.nbgrader.grade_id: _found(
                    cell, problem or unsettled.get(cell.metadata.nbgrader.grade_id, ""), place >= secret
                )
                for place, cell in enumerate(nb.cells)
                if utils.is_grade(cell)
            },
        }
        nb.metadata[RECORD] = record
        return nb, resources


def settle(nb: NotebookNode, finished: set[int], reason: str) -> dict[str, str]:
    """Give every test cell an output that nbgrader reads as it is meant: an error where the cell was not run to its
    end or ended in a value that is no number, and a number of points only within the cell's own range.

    Returns the sentence of each test cell that a person must look at for that, by its grade id.
    """
    unsettled = {}
    for place, cell in enumerate(nb.cells):
        if not _is_test(cell):
            continue
        if place not in finished:
            told = cell.outputs[0].evalue if cell.outputs and cell.outputs[0].output_type == "error" else ""
            sentence = reason or told or "The cell was not run."
            if not told:
                _show_first(cell, "NotRun", sentence)
        elif not _clamp_number(cell):
            sentence = NO_NUMBER
            _show_first(cell, "NoNumber", sentence)
        else:
            continue
        unsettled[cell.metadata.nbgrader.grade_id] = f"{sentence} This earns nothing, and a person must look at it."
    return unsettled


def _remarks(unsettled: dict[str, str]) -> list[str]:
    """Each sentence about cells that a person must look at, once, with the names of those cells."""
    names: dict[str, list[str]] = {}
    for name, sentence in unsettled.items():
        names.setdefault(sentence, []).append(name)
    return [f"{', '.join(those)}: {sentence}" for sentence, those in names.items()]


def _from_first_hidden_test(nb: NotebookNode, mark: str) -> int:
    """Place of the first cell with hidden tests. From there on the kernel, and the learner's code in it, can read them,
    so error messages may hold them."""
    return next(
        (place for place, cell in enumerate(nb.cells) if cell.cell_type == "code" and mark in cell.source),
        len(nb.cells),
    )


def _clamp_number(cell: NotebookNode) -> bool:
    """nbgrader throws all of a learner's grades away for a number above the maximum: bring it into the range. Of
    several results the last is the cell's own, and nbgrader would read the first.

    Returns False where nbgrader would go by a result that is no number, for which it gives all points.
    """
    results = [output for output in cell.outputs if output.output_type == "execute_result"]
    cell.outputs = [output for output in cell.outputs if all(output is not other for other in results[:-1])]
    if _read_by_nbgrader(cell) != "execute_result":
        return True
    data = results[-1].data
    try:
        points = float(data.get("text/plain", ""))
    except ValueError:
        return False
    most = float(cell.metadata.nbgrader["points"])
    data["text/plain"] = repr(min(max(points, 0.0), most) if math.isfinite(points) else 0.0)
    return True


def _is_test(cell: NotebookNode) -> bool:
    return cell.cell_type == "code" and utils.is_grade(cell) and not utils.is_solution(cell)


def _found(cell: NotebookNode, problem: str, is_secret: bool) -> dict:
    """What a class run and the learner's page read of one graded cell."""
    marks, by_hand = cell.metadata.nbgrader, utils.is_solution(cell)
    points = 0.0 if by_hand else float(utils.determine_grade(cell)[0] or 0.0)
    changed = by_hand and utils.compute_checksum(cell) != marks.get("checksum")
    waits = problem or ("an answer to be marked" if changed else "")
    return {
        "title": marks.grade_id,
        "points": points,
        "max_points": float(marks.points),
        "needs_person": waits,
        "answered": changed,
        "said": "" if by_hand or problem else _said(cell, points, is_secret),
    }


def _said(cell: NotebookNode, points: float, is_secret: bool) -> str:
    """The sentence about a test cell on the learner's page: the error's own words, but none that may hold a hidden
    test."""
    error = next((output for output in cell.outputs if output.output_type == "error"), None)
    if error is None and _read_by_nbgrader(cell) == "stderr":
        return "The test earned nothing: something was printed to the error stream, which nbgrader counts as a failure."
    if error is None:
        return "The test ran to its end." if points else "The test earned nothing."
    if not is_secret:
        return f"{error.ename}: {error.evalue}"[:500]
    known = f" ({error.ename})" if error.ename in _COMMON_ERRORS else ""
    return f"The test did not pass{known}. Hidden tests are in this lesson, so no more can be shown."
