"""An instructor's own code exercises: run in a box that holds, in a class run that survives what is in it."""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import nbformat
import pytest
from bs4 import BeautifulSoup
from nbgrader.api import Gradebook

import course as course_package
from graders.classroom.report import report_on
from graders.classroom.run import JUDGED, NEEDS_PERSON, Classroom
from graders.exercises import loader
from graders.nbgrader_bridge import call_filter, sandbox, sandboxed_kernel
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.nbgrader_bridge.sandbox import Limits
from graders.nbgrader_bridge.sandboxed_kernel import run_in_box, settle
from tests.graders.conftest import marks

LESSON = "l97_own_code"
PAGE = f"{LESSON}.ipynb"
needs_box = pytest.mark.skipif(bool(sandbox.why_no_box()), reason=sandbox.why_no_box() or "there is a box")


def run_cells(*sources, files=None, cell_seconds=20.0, most_output_bytes=200_000, **limits):
    """Run code in a box; return the reason why it was ended, the finished cells, and each cell's outputs as text."""
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source) for source in sources])
    reason, finished = run_in_box(notebook, files, Limits(**limits), cell_seconds, most_output_bytes)
    return reason, finished, ["".join(map(_text, cell.outputs)) for cell in notebook.cells]


def _text(output) -> str:
    if output.output_type == "error":
        return f"{output.ename}: {output.evalue}"
    return output.get("text") or output.data["text/plain"]


@needs_box
def test_ordinary_code_runs_as_in_any_kernel():
    """Output, results, errors, state from cell to cell, and the course's own packages of numbers."""
    reason, finished, shown = run_cells(
        "import numpy\nx = numpy.arange(4)\nprint('hello')",
        "int(x.sum())",
        "1 / 0",
        "import matplotlib.pyplot, engine_sim; len(x)",
    )
    assert reason == "" and finished == {0, 1, 2, 3}
    assert shown == ["hello\n", "6", "ZeroDivisionError: division by zero", "4"]


def test_a_folder_that_python_names_and_lacks_is_not_asked_for(tmp_path, monkeypatch):
    """Some distributions name folders for packages that are not there: the box would not start with one."""
    there, lacking = tmp_path / "there", tmp_path / "lacking"
    there.mkdir()
    monkeypatch.setattr(sandbox.site, "getsitepackages", lambda: [str(there), str(lacking)])
    shown = sandbox.boxed(["true"], Limits())
    assert str(there) in shown and str(lacking) not in shown


@needs_box
def test_nothing_of_this_computer_is_seen(tmp_path, monkeypatch):
    """Neither a class folder, nor home, nor the environment, nor other processes, nor the rubrics are in the box."""
    (tmp_path / "gradebook.db").write_text("secret", encoding="utf-8")
    monkeypatch.setenv("A_SECRET", "7")
    places = [
        str(tmp_path / "gradebook.db"),
        str(Path.home() / ".bashrc"),
        "/etc/shadow",
        "/etc/hostname",
        str(Path(course_package.__file__).parent / "nbgrader_config.py"),
        str(loader.FOLDER),
    ]
    _, _, shown = run_cells(
        f"import os; [place for place in {places!r} if os.path.exists(place)], os.environ.get('A_SECRET')",
        "len([name for name in os.listdir('/proc') if name.isdigit()]) < 10",
        "import graders.judge",
    )
    assert shown[:2] == ["([], None)", "True"] and "ModuleNotFoundError" in shown[2]


@needs_box
def test_the_boxs_first_process_has_no_environment(monkeypatch):
    """/proc/1/environ of the box is empty: bubblewrap itself starts without the instructor's variables."""
    monkeypatch.setenv("A_SECRET", "7")
    _, _, shown = run_cells(
        "open('/proc/1/environ', 'rb').read(), open('/proc/1/comm').read()",
        "import pathlib; [p for p in pathlib.Path('/proc').glob('[0-9]*/environ') if b'A_SECRET' in p.read_bytes()]",
    )
    assert shown == ["(b'', 'bwrap\\n')", "[]"]


@needs_box
def test_there_is_no_network():
    """A server that this computer can reach, the box cannot; the same connection succeeds outside."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        socket.create_connection(("127.0.0.1", port), 2).close()
        _, _, shown = run_cells(
            f"import socket; socket.create_connection(('127.0.0.1', {port}), 2)",
            "socket.create_connection(('192.0.2.1', 80), 2)",
        )
    assert "ConnectionRefusedError" in shown[0] and "unreachable" in shown[1]


@needs_box
def test_nothing_outside_the_boxs_own_folders_can_be_written(tmp_path):
    """The system, the lesson's files and the class are out of reach; the working folder is the box's own and full
    where its limit is reached."""
    (tmp_path / "data.csv").write_text("1,2\n", encoding="utf-8")
    (tmp_path / "hidden_tests.ipynb").write_text("{}", encoding="utf-8")
    (tmp_path / "link.txt").symlink_to("/etc/hostname")
    _, _, shown = run_cells(
        "import os, sys; print(open('data.csv').read(), sorted(os.listdir()))",
        "open('data.csv', 'w')",
        "open(os.path.join(sys.prefix, 'x'), 'w')",
        "open('/x', 'w')",
        "open('mine.txt', 'w').write('y')",
        "open('/dev/shm/big', 'wb').write(bytes(30_000_000))",
        files=tmp_path,
        disk_mb=10,
    )
    assert shown[0].startswith("1,2") and "ipynb" not in shown[0] and "link.txt" not in shown[0]
    assert all("Read-only file system" in text for text in shown[1:4])
    assert shown[4] == "1" and "OSError" in shown[5]
    assert (tmp_path / "data.csv").read_text(encoding="utf-8") == "1,2\n" and not (tmp_path / "mine.txt").exists()


@needs_box
def test_a_cell_that_loops_is_interrupted_and_the_next_one_runs():
    """The limit of one cell costs that cell alone."""
    reason, _, shown = run_cells("while True: pass", "2", cell_seconds=1.0)
    assert reason == "" and shown[0].startswith(("TimeoutError", "KeyboardInterrupt")) and shown[1] == "2"


NEVER_ENDS = {  # the first two wait for the limit of the whole notebook
    "stopped itself": "import os, signal; os.kill(os.getpid(), signal.SIGSTOP)",
    "silenced": "get_ipython().kernel.iopub_thread.stop()",
    "ended by time": "import time\ntry:\n    time.sleep(60)\nexcept BaseException: pass",
    "left no result": "import os; os._exit(0)",
    "killed itself": "import os; os.kill(os.getpid(), 9)",
    "never answered": "get_ipython().kernel._aborting = True",
}
AT_ONCE = 3  # boxes: most of their time is waiting


def run_among_tests(source: str):
    """Run code as the second of three test cells; return the notebook, the reason and the finished cells."""
    cells = [
        nbformat.v4.new_code_cell(source, metadata=marks(f"t{number}", True, False, 8.0))
        for number, source in enumerate(["assert True", source, "assert True"])
    ]
    notebook = nbformat.v4.new_notebook(cells=cells)
    return notebook, *run_in_box(notebook, None, Limits(seconds=12.0), 2.0, 100_000)


@pytest.fixture(scope="module")
def never_ended():
    """What came of each of these cells, run side by side."""
    with ThreadPoolExecutor(AT_ONCE) as boxes:
        return dict(zip(NEVER_ENDS, boxes.map(run_among_tests, NEVER_ENDS.values()), strict=True))


@needs_box
@pytest.mark.parametrize("way", NEVER_ENDS)
def test_a_test_cell_that_never_came_to_its_end_earns_nothing(never_ended, way):
    """No reply or no end of it from the kernel is a failure, in that cell and in those behind it that were not reached;
    a silent cell that the kernel answered for has all its points."""
    from nbgrader import utils

    notebook, reason, finished = never_ended[way]
    not_run = settle(notebook, finished, reason)
    earned = [utils.determine_grade(cell)[0] for cell in notebook.cells]
    assert earned[0] == 8.0 and "t0" not in not_run
    if way == "never answered":  # the request that says so is itself answered for
        assert earned[1:] == [8.0, 0] and set(not_run) == {"t2"}
    else:
        assert earned[1] == 0 and "a person must look" in not_run["t1"]
        assert (earned[2] == 0) == ("t2" in not_run) == (way != "ended by time")


@needs_box
@pytest.mark.parametrize(
    "body",
    [
        "import sys; sys.displayhook(8.0)",
        "from ipywidgets import Output; Output().__enter__()",
        "import threading; from IPython.display import clear_output\n"
        "    threading.Thread(target=lambda: [clear_output() for _ in range(500)]).start()",
        "s = get_ipython(); s._showtraceback = s.showtraceback = lambda *_, **__: None",
        "raise SystemExit(0)",
        "raise KeyboardInterrupt",
    ],
    ids=["a result of its own", "outputs led into a widget", "outputs taken back", "no traceback", "exit", "interrupt"],
)
def test_a_failure_that_is_hidden_from_the_outputs_is_shown(body):
    """The kernel's reply says that the cell failed, whatever the learner's function did to the outputs; and the points
    of a test that ends in a number are that number."""
    from nbgrader import utils

    cells = [
        nbformat.v4.new_code_cell(f"def f():\n    {body}\n    return 1"),
        nbformat.v4.new_code_cell("f(); assert f() == 2", metadata=marks("t", True, False, 8.0)),
        nbformat.v4.new_code_cell("try: f()\nexcept BaseException: pass\n0.5", metadata=marks("p", True, False, 8.0)),
    ]
    notebook = nbformat.v4.new_notebook(cells=cells)
    reason, finished = run_in_box(notebook, None, Limits(), 20.0, 100_000)
    assert settle(notebook, finished, reason) == {} and finished == {0, 1, 2}
    assert [utils.determine_grade(cell)[0] for cell in notebook.cells[1:]] == [0, 0.5]


TELLING_OBJECT = """class Answer:
    __eq__ = __rmul__ = lambda self, other: self
    def __repr__(self): return 'right'
    def __float__(self): return 8.0"""
WITHOUT_TEXT = """class Answer:
    def __eq__(self, other): return self
    def _repr_mimebundle_(self, **_): return {'text/html': '8'}"""


@needs_box
@pytest.mark.parametrize(
    "learner, test",
    [
        ("def double(x): return 0", "double(21) == 42"),
        ("def double(x): return 2 * x", "double(21) == 42"),
        (f"{TELLING_OBJECT}\ndef double(x): return Answer()", "8 * (double(21) == 42)"),
        (f"{WITHOUT_TEXT}\ndef double(x): return Answer()", "double(21) == 42"),
        ("import sys\ndef double(x): sys.displayhook('x'); return 42", "assert double(21) == 42"),
    ],
    ids=["False", "True", "an object of the learner's", "a result without text", "a result shown by the learner"],
)
def test_a_value_that_is_no_number_earns_nothing_and_a_person_looks(learner, test):
    """nbgrader would give all points for it, so the cell gets an error that says what it ended in."""
    from nbgrader import utils

    cell = nbformat.v4.new_code_cell(test, metadata=marks("t", True, False, 8.0))
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(learner), cell])
    reason, finished = run_in_box(notebook, None, Limits(), 20.0, 100_000)
    told = settle(notebook, finished, reason)
    assert finished == {0, 1} and utils.determine_grade(cell)[0] == 0
    assert "ended in a value that is not a number of points" in told["t"] and "a person must look" in told["t"]


@needs_box
def test_a_result_behind_too_much_output_is_no_silence():
    """Where outputs were left out the cell's number may be among them: it earns nothing, and not everything."""
    reason, finished, shown = run_cells("print('x' * 150_000)\nprint('y' * 150_000)\n0.5")
    assert "printed more than" in reason and finished == set() and shown[0].startswith("NoResult")


@needs_box
def test_a_box_that_does_not_start_is_no_fault_of_the_work(monkeypatch):
    """A kernel that never comes up is told as this computer's, and no cell is said to have been run."""
    monkeypatch.setattr(sandboxed_kernel, "boxed", lambda *_: ["/bin/false"])
    with pytest.raises(sandboxed_kernel.BoxNotStarted, match="no fault of the work"):
        run_cells("1")


@needs_box
@pytest.mark.parametrize("command", [["/bin/false"], ["/there/is/no/such/program"]])
def test_a_box_that_does_not_start_leaves_nothing_for_the_end_of_the_program(monkeypatch, command):
    """nbclient asks to be called when the program ends; a class run of thousands of hand-ins must not keep them all."""
    kept: list = []
    monkeypatch.setattr(atexit, "register", lambda function, *_, **__: kept.append(function))
    monkeypatch.setattr(atexit, "unregister", lambda function: kept.remove(function) if function in kept else None)
    monkeypatch.setattr(sandboxed_kernel, "boxed", lambda *_: command)
    with pytest.raises(sandboxed_kernel.BoxNotStarted):
        run_cells("1")
    assert not [one for one in kept if isinstance(getattr(one, "__self__", None), sandboxed_kernel.BoxedClient)]


@needs_box
@pytest.mark.parametrize(
    "sources, limits, words",
    [
        (["import time", "for _ in range(60): time.sleep(1)", "2"], {"seconds": 3.0}, "more than 3 seconds"),
        (
            ["import os\nfor _ in range(500):\n    if os.fork() == 0: __import__('time').sleep(60)", "2"],
            {"processes": 20},
            "more than 20 processes",
        ),
        (
            [
                "import os, time\nfor _ in range(9):\n    if os.fork() == 0: x = bytearray(150_000_000); "
                "time.sleep(60)\ntime.sleep(60)",
                "2",
            ],
            {"memory_mb": 1000},
            "more than 1000 MB",
        ),
        (
            [
                "import os, time\nfor number in range(15):\n    file = os.memfd_create(str(number))\n    "
                "for _ in range(90): os.write(file, bytes(1_000_000))\ntime.sleep(60)",
                "2",
            ],
            {"memory_mb": 1000},
            "more than 1000 MB",
        ),
        (["while True: print('x' * 1000)", "2"], {"most_output_bytes": 50_000}, "printed more than 50 kB"),
        (["import os; os._exit(0)", "2"], {}, "ended its own kernel"),
        (
            [
                "import os, signal; os.kill(1, signal.SIGKILL); os.kill(os.getppid(), signal.SIGKILL); "
                "os.kill(os.getpid(), 9)",
                "2",
            ],
            {},
            "ended its own kernel",
        ),
    ],
    ids=[
        "whole notebook",
        "fork bomb",
        "memory of all",
        "files without a name",
        "endless output",
        "exit",
        "killing its parents",
    ],
)
def test_the_whole_box_is_ended_where_a_limit_is_passed(sources, limits, words, monkeypatch):
    """One sentence says which limit; the cells after it did not run; no process is left."""
    if "memfd" in sources[0]:  # as on a computer whose kernel filters no calls
        monkeypatch.setattr(call_filter, "program", lambda: b"")
    limits = {"seconds": 60.0} | limits
    reason, finished, shown = run_cells(*sources, **limits)
    assert words in reason
    assert len(sources) - 1 not in finished and shown[-1] == ""
    if limits.get("processes") is None:  # where the system refuses a process itself, the cell ends by that error
        assert finished == set(range(len(sources) - 2))
    assert not [line for line in _command_lines() if "ipykernel_launcher" in line and "/hand_in" in line]


def _command_lines() -> list[str]:
    lines = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            ours = int((process / "stat").read_text().rpartition(")")[2].split()[1]) == os.getpid()
            lines += [(process / "cmdline").read_bytes().decode(errors="replace")] if ours else []
        except OSError:
            continue
    return lines


@needs_box
def test_one_process_cannot_have_more_memory_than_the_limit():
    """A single greedy request fails in the cell; the kernel lives on."""
    reason, _, shown = run_cells("x = bytearray(3_000_000_000)", "2", memory_mb=1500)
    assert reason == "" and shown == ["MemoryError: ", "2"]


@needs_box
def test_outputs_hold_plain_text_and_pictures_alone():
    """HTML, script and widgets are left behind where they were made."""
    notebook = nbformat.v4.new_notebook(
        cells=[
            nbformat.v4.new_code_cell(
                "from IPython.display import HTML, Javascript, display\n"
                "display(HTML('<script>alert(1)</script>')); display(Javascript('alert(2)')); 7"
            )
        ]
    )
    run_in_box(notebook, None, Limits(), 20.0, 100_000)
    kinds = {kind for output in notebook.cells[0].outputs for kind in output.get("data", {})}
    assert kinds == {"text/plain"} and "alert" not in json.dumps(notebook.cells[0].outputs)


@needs_box
def test_the_box_works_beside_a_running_event_loop_and_from_a_thread():
    """A class run may be started from wherever its caller stands."""
    found = []
    thread = threading.Thread(target=lambda: found.append(run_cells("40 + 2")))
    thread.start()
    thread.join(60)
    assert found == [("", {0}, ["42"])]


@needs_box
def test_a_box_that_is_ended_while_it_starts_leaves_nothing(monkeypatch):
    """A process that the outermost one would start while the others are being looked for is never started."""
    real, mark = sandbox._descendants, f"60.{os.getpid()}"
    outermost = subprocess.Popen(["sh", "-c", f"sleep 0.5; sleep {mark}; true"])

    def slowly(first):
        found = real(first)
        time.sleep(1.0)
        return found

    monkeypatch.setattr(sandbox, "_descendants", slowly)
    sandbox.end_box(outermost.pid)
    outermost.wait()
    left = [line for line in _mentions(mark) if line.startswith(b"sleep")]
    assert not left


INTERRUPTED = """
import nbformat
from graders.nbgrader_bridge import sandboxed_kernel
from graders.nbgrader_bridge.sandbox import Limits

class Tells(sandboxed_kernel.BoxedClient):
    def _sent(self, cell, cell_index):
        super()._sent(cell, cell_index)
        print("cell", cell_index, flush=True)

sandboxed_kernel.BoxedClient = Tells
cells = [nbformat.v4.new_code_cell("import time; time.sleep(60)") for _ in range(2)]
try:
    print("begins", flush=True)
    sandboxed_kernel.run_in_box(nbformat.v4.new_notebook(cells=cells), None, Limits(seconds=60.0), 50.0, 100_000)
    print("went on")
except KeyboardInterrupt:
    print("interrupted")
"""


@needs_box
@pytest.mark.parametrize("at", ["begins", "cell 0"])
def test_ctrl_c_ends_the_box_and_the_run(at):
    """An interrupt goes to the class run while the kernel starts and while a cell runs, and leaves no process."""
    with tempfile.TemporaryDirectory() as folder:  # short, because the box's sockets lie in it
        run = subprocess.Popen(
            [sys.executable, "-c", INTERRUPTED],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": str(Path(sandbox.__file__).parents[2]), "TMPDIR": folder},
        )
        for line in run.stdout:
            if line.strip() == at:
                break
        run.send_signal(signal.SIGINT)
        rest, _ = run.communicate(timeout=40.0)
        assert rest.splitlines()[-1] == "interrupted" and "cell 1" not in rest
        until = time.monotonic() + 10.0
        while _mentions(folder) and time.monotonic() < until:
            time.sleep(0.1)
        assert not _mentions(folder) and not os.listdir(folder)


def _mentions(folder: str) -> list[bytes]:
    """The command lines of all processes that name a folder."""
    lines = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            lines.append(path.read_bytes())
    return [line for line in lines if folder.encode() in line]


def test_cells_that_were_not_run_are_never_full_points():
    """nbgrader gives full points to a silent test cell: one that was not finished shows an error, and a number beyond
    its range is brought into it."""
    from nbgrader import utils

    cells = [nbformat.v4.new_code_cell("", metadata=marks(f"t{number}", True, False, 2.0)) for number in range(5)]
    for cell, value in zip(cells[1:], ["inf", "99.0", "nan", "-3"], strict=True):
        cell.outputs = [nbformat.v4.new_output("execute_result", {"text/plain": value}, execution_count=1)]
    settle(nbformat.v4.new_notebook(cells=cells), {1, 2, 3, 4}, "It was ended.")
    assert [utils.determine_grade(cell)[0] for cell in cells] == [0, 0.0, 2.0, 0.0, 0.0]


def test_a_number_behind_other_outputs_or_twice_is_brought_into_its_range_too():
    """Words before a number above the maximum, the same number twice, and a result without text."""
    from nbgrader import utils

    cells = [nbformat.v4.new_code_cell("", metadata=marks(f"t{number}", True, False, 2.0)) for number in range(3)]
    said = nbformat.v4.new_output("stream", name="stdout", text="x")
    for cell, values in zip(cells, (["99.0"], ["1.0", "1.0"], [""]), strict=True):
        cell.outputs = [
            said,
            *(nbformat.v4.new_output("execute_result", {"text/plain": value}, execution_count=1) for value in values),
        ]
    settle(nbformat.v4.new_notebook(cells=cells), {0, 1, 2}, "")
    assert [utils.determine_grade(cell)[0] for cell in cells] == [2.0, 1.0, 0.0]


# ---- in a class -----------------------------------------------------------------------------------------------------


def source_notebook():
    """A stock code lesson: a function to write, a visible test, a hidden one worth partial credit, a question."""
    cells = [
        nbformat.v4.new_markdown_cell("# The instructor's own"),
        nbformat.v4.new_code_cell(
            "def crank_degrees(distributor):\n    ### BEGIN SOLUTION\n    return 2 * distributor\n    ### END SOLUTION",
            metadata=marks("own_double", False, True),
        ),
        nbformat.v4.new_code_cell("assert crank_degrees(3) == 6", metadata=marks("own_test", True, False, 2.0)),
        nbformat.v4.new_code_cell(
            "### BEGIN HIDDEN TESTS\nassert crank_degrees(-1.5) == -3\n### END HIDDEN TESTS",
            metadata=marks("own_hidden", True, False, 3.0),
        ),
        nbformat.v4.new_markdown_cell("Because.", metadata=marks("own_why", True, True, 1.0, "markdown")),
    ]
    for cell, name in zip(cells, "abcde", strict=True):
        cell.id = name
    return nbformat.v4.new_notebook(
        cells=cells, metadata={"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
    )


@pytest.fixture(scope="module")
def released(tmp_path_factory, schema_asked_once):
    """A class with that lesson, handed out."""
    root = tmp_path_factory.mktemp("own") / "class"
    (root / "source" / LESSON).mkdir(parents=True)
    shutil.copyfile(course_package.HERE / "nbgrader_config.py", root / "nbgrader_config.py")
    nbformat.write(source_notebook(), root / "source" / LESSON / PAGE)
    NbgraderCourse(root).release(LESSON)
    return root


@pytest.fixture
def own_class(released, tmp_path):
    """A copy of it for one test."""
    shutil.copytree(released, tmp_path / "class")
    return tmp_path / "class"


def hand_in(root, learner, code, before="", tags=()):
    """A hand-in whose function is `code`, with a further first cell where `before` is given."""
    folder = root / "submitted" / learner / LESSON
    shutil.copytree(root / "release" / LESSON, folder)
    notebook = nbformat.read(folder / PAGE, as_version=4)
    notebook.cells[1].source = code
    for cell in notebook.cells:
        cell.metadata.tags = list(tags)
    if before:
        notebook.cells.insert(0, nbformat.v4.new_code_cell(before))
    nbformat.write(notebook, folder / PAGE)


def points(root, learner):
    """The points of one learner by test cell."""
    return {grade.name: grade.points for grade in NbgraderCourse(root).grades(LESSON, learner)}


RIGHT = "def crank_degrees(distributor):\n    return 2 * distributor"
ALL, NONE = {"own_test": 2.0, "own_hidden": 3.0, "own_why": 0.0}, {"own_test": 0.0, "own_hidden": 0.0, "own_why": 0.0}


@needs_box
@pytest.mark.classroom
def test_a_class_run_executes_an_instructors_own_lesson_in_the_box(own_class):
    """Right, half right and wrong code, code that fights, and forged cells: exact points for each, in one run. Further
    ways of not ending are tried above, each in a box of its own."""
    gradebook = own_class / "gradebook.db"
    config = own_class / "nbgrader_config.py"
    config.write_text(config.read_text(encoding="utf-8") + "\nc.CodeInBox.cell_seconds = 1.0\n", encoding="utf-8")
    hand_in(own_class, "half", "def crank_degrees(distributor):\n    return 2 * abs(distributor)")
    hand_in(own_class, "exits", RIGHT, before="import os; os._exit(0)")
    hand_in(
        own_class,
        "sleeps",
        "import time\ndef crank_degrees(distributor):\n    try:\n        time.sleep(60)\n"
        "    except BaseException:\n        return 2 * distributor",
    )
    hand_in(
        own_class,
        "warns",
        "import sys\ndef crank_degrees(distributor):\n    print('old', file=sys.stderr)\n    return 2 * distributor",
    )
    hand_in(
        own_class,
        "shows",
        "import sys\ndef crank_degrees(distributor):\n    sys.displayhook('full')\n    return 2 * distributor",
    )
    hand_in(
        own_class, "wrong_tagged", "def crank_degrees(distributor):\n    return distributor", tags=["skip-execution"]
    )
    hand_in(
        own_class,
        "right_robs",
        RIGHT,
        before=(
            f"import sqlite3\nc = sqlite3.connect({str(gradebook)!r})\nc.execute('UPDATE grade SET auto_score = 9')"
        ),
    )
    room = Classroom(own_class)
    reports = {report.learner: report for report in room.judge(LESSON)}
    assert {name: points(own_class, name) for name in reports} == {
        "half": ALL | {"own_hidden": 0.0},
        "exits": NONE,
        "wrong_tagged": NONE,
        "right_robs": ALL,
        "sleeps": NONE,
        "warns": NONE,
        "shows": NONE,
    }
    assert "ended its own kernel" in " ".join(reports["exits"].remarks)
    assert "own_test, own_hidden: The cell did not end within 1 s " in " ".join(reports["sleeps"].remarks)
    assert "own_test, own_hidden: The test cell ended in a value that is not a" in " ".join(reports["shows"].remarks)
    waiting = {"exits", "sleeps", "shows"}
    assert {name: report.status for name, report in reports.items()} == {
        name: NEEDS_PERSON if name in waiting else JUDGED for name in reports
    }
    assert all("a person must look" in " ".join(reports[name].reasons) for name in waiting)
    assert room.feedback(list(reports.values())) == []
    page = (own_class / "feedback" / "half" / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")
    assert "2 of 6 points" in BeautifulSoup(page, "html.parser").find("header").get_text()
    assert "AssertionError" in page and "-1.5" not in page  # no line of the hidden test
    page = (own_class / "feedback" / "warns" / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")
    assert "printed to the error stream, which nbgrader counts as a failure" in page
    assert not any(report.judged_now for report in Classroom(own_class).judge(LESSON))


@needs_box
@pytest.mark.classroom
def test_the_report_keeps_why_a_person_had_to_look(own_class):
    """After a mark by hand the sentence about a stopped cell stands, and none about an answer that was only marked."""
    hand_in(own_class, "ada", "import os\ndef crank_degrees(distributor):\n    os._exit(0)")
    page = own_class / "submitted" / "ada" / LESSON / PAGE
    notebook = nbformat.read(page, as_version=4)
    notebook.cells[4].source = "Because it turns twice as fast."
    nbformat.write(notebook, page)
    room = Classroom(own_class)
    room.judge(LESSON)
    (before,) = report_on(room, {})[0].rows
    assert before.why.startswith("The notebook ended its own kernel") and "an answer to be marked" in before.why
    with Gradebook(room.course.directory.db_url) as gradebook:
        for grade in gradebook.find_submission_notebook(LESSON, LESSON, "ada").grades:
            grade.manual_score, grade.needs_manual_grade = 1.0, False
        gradebook.db.commit()
    (after,) = report_on(room, {})[0].rows
    assert after.points == 3.0 and after.why.startswith("Marked by hand. The judge said: The notebook ended its own")
    assert "an answer to be marked" not in after.why


TELLS = """import sys
seen = []
class Told(Exception): pass
def crank_degrees(distributor):
    seen.append((distributor, globals().get('In', [])[-1:]))
    if distributor == 7:
        raise Told(f'seen so far: {seen}')
    return 0 if distributor < 0 else 2 * distributor"""


@needs_box
@pytest.mark.classroom
def test_hidden_tests_never_reach_the_learners_page(tmp_path, schema_asked_once):
    """Neither their lines, nor their traceback, nor the values and words of a failed assertion, nor what code that
    looked at them says in a visible test behind them; a visible test before them keeps its words; and
    marks of hidden tests in a learner's own cells cost nobody the page."""
    root = tmp_path / "class"
    source = source_notebook()
    source.cells[3].source = (
        "### BEGIN HIDDEN TESTS\nwanted_here = -37.25\n"
        "assert crank_degrees(-18.625) == wanted_here, f'{wanted_here} was the word'\n"
        "### END HIDDEN TESTS"
    )
    source.cells.insert(
        4, nbformat.v4.new_code_cell("assert crank_degrees(7) == 14", metadata=marks("own_later", True, False, 1.0))
    )
    (root / "source" / LESSON).mkdir(parents=True)
    shutil.copyfile(course_package.HERE / "nbgrader_config.py", root / "nbgrader_config.py")
    nbformat.write(source, root / "source" / LESSON / PAGE)
    NbgraderCourse(root).release(LESSON)
    hand_in(root, "tells", TELLS)
    hand_in(
        root,
        "names",
        "def crank_degrees(distributor):\n    raise type(f'Named{distributor}'.replace('.', '_'), (Exception,), {})",
    )
    hand_in(
        root,
        "marks",
        "### BEGIN HIDDEN TESTS\ndef crank_degrees(distributor):\n    return 2 * distributor",
        before="### BEGIN HIDDEN TESTS\n### BEGIN HIDDEN TESTS\nwanted_here = 1\n### END HIDDEN TESTS",
    )
    hand_in(root, "early", "def crank_degrees(distributor):\n    raise ValueError('no 3 here')")
    room = Classroom(root)
    reports = room.judge(LESSON)
    assert room.feedback(reports) == []
    pages = {
        name: (root / "feedback" / name / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")
        for name in ("tells", "names", "early", "marks")
    }
    for learner, page in pages.items():
        for secret in ("37.25", "18.625", "18_625", "wanted_here", "was the word", "HIDDEN TESTS", "seen so far"):
            assert secret not in page, (learner, secret)
        assert learner == "marks" or "Hidden tests are in this lesson" in page
    assert "test did not pass (AssertionError)" in pages["tells"]
    assert "no 3 here" in pages["early"] and "test did not pass (ValueError)" in pages["early"]
    judged = (root / "autograded" / "tells" / LESSON / PAGE).read_text(encoding="utf-8")
    assert "wanted_here" in judged and "was the word" in judged and "seen so far" in judged  # for the instructor
    released = (root / "release" / LESSON / PAGE).read_text(encoding="utf-8")
    assert "wanted_here" not in released


@pytest.mark.classroom
def test_without_bubblewrap_nothing_is_run_and_the_class_run_says_so(own_class, monkeypatch):
    """Every test cell has nothing, a person is asked with the reason, and the next run with a box judges it."""
    sentence = "bubblewrap (the program bwrap) is not on this computer"
    trap = own_class / "was_run"
    hand_in(own_class, "ada", f"open({str(trap)!r}, 'w')\n{RIGHT}")
    with monkeypatch.context() as patch:
        patch.setattr(sandbox.shutil, "which", lambda name: None)
        sandbox.why_no_box.cache_clear()
        (report,) = Classroom(own_class).judge(LESSON)
        sandbox.why_no_box.cache_clear()
    assert report.status == NEEDS_PERSON and any(sentence in reason for reason in report.reasons)
    assert points(own_class, "ada") == NONE and not trap.exists()
    if not sandbox.why_no_box():
        (report,) = Classroom(own_class).judge(LESSON)
        assert report.judged_now and report.points == 0.0  # the class folder cannot be written from the box


@needs_box
@pytest.mark.classroom
def test_a_box_that_does_not_start_is_tried_again(own_class, monkeypatch):
    """Nothing is charged to the learner: a person is asked, and the next run, in which it starts, gives the points."""
    hand_in(own_class, "ada", RIGHT)
    with monkeypatch.context() as patch:
        patch.setattr(sandboxed_kernel, "boxed", lambda *_: ["/bin/false"])
        (report,) = Classroom(own_class).judge(LESSON)
    assert report.status == NEEDS_PERSON and "no fault of the work" in " ".join(report.reasons)
    assert points(own_class, "ada") == NONE
    (report,) = Classroom(own_class).judge(LESSON)
    assert report.judged_now and report.status == JUDGED and points(own_class, "ada") == ALL


@pytest.mark.classroom
def test_a_class_without_the_step_runs_nothing_and_says_so(own_class):
    """An older class folder, whose configuration does not name the box, asks for a person."""
    config = own_class / "nbgrader_config.py"
    lines = config.read_text(encoding="utf-8").splitlines()
    config.write_text("\n".join(line for line in lines if "CodeInBox" not in line), encoding="utf-8")
    hand_in(own_class, "ada", RIGHT)
    (report,) = Classroom(own_class).judge(LESSON)
    assert report.status == NEEDS_PERSON and "CodeInBox" in " ".join(report.reasons)
    assert points(own_class, "ada") == NONE


@pytest.mark.classroom
def test_the_courses_own_lessons_never_reach_the_box(trial_class, perfect, monkeypatch):
    """A lesson with a rubric starts no kernel, boxed or not."""

    def refuse(*_, **__):
        raise AssertionError("a kernel was started")

    monkeypatch.setattr(sandboxed_kernel, "run_in_box", refuse)
    monkeypatch.setattr("jupyter_client.manager.KernelManager.start_kernel", refuse)
    trial_class.hand_in("ada", perfect)
    (report,) = Classroom(trial_class.root).judge("l98_trial")
    assert report.points == 5.0
