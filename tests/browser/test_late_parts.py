"""A busy browser brings the parts of a lesson up late; every one of them hears its kernel all the same.

anywidget takes a part for failed that is not up after two seconds, and keeps from it all that the kernel says. Here
that time is over at once, so that every part is late, as on an old machine on which a whole lesson appears. Where a
front end lacks what hearing so takes, every part appears all the same.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from graders.exercises.kinds import KINDS
from graders.exercises.loader import rubric_in, rubric_path
from tests.browser.conftest import LATE_PART, LESSON, Lab, faults_of
from tests.graders.instrument import TRIAL

TIME_IS_OVER = """
    const after = AbortSignal.timeout.bind(AbortSignal);
    AbortSignal.timeout = (ms) => {
        if (ms !== 2000) return after(ms);
        const over = new AbortController();
        queueMicrotask(() => over.abort());
        return over.signal;
    };
"""
ANSWERED = "form => document.querySelector(form + ' .cf-said').dataset.kind === 'done'"
TRIALS_HERE = Path(__file__).parent / "trial_rubrics"
CELL_OF = {"sum": "fill_sum"}  # where a kind's cell has a name of its own
QUESTION, HAND_IN = ".cf-choice[data-exercise=l04_why_back_off]", ".cf-hand-in"


@pytest.fixture
def late(browser):
    """A page on which every part is late, and what anywidget says of that."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.add_init_script(TIME_IS_OVER)
    page, faults = context.new_page(), []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page, faults
    context.close()


def set_the_brake(page) -> None:
    """Press the switch of the brake and wait until the engine says that it is on."""
    page.locator(".engine-bench [data-control=brake][data-value=on]").click()
    page.wait_for_function("document.querySelector('[data-control=brake][data-value=on]').ariaPressed === 'true'")


def test_every_kind_of_part_hears_its_kernel(lab, late, notebook):
    """The bench moves its switch, a form says that it recorded, the button to hand in lists what is missing."""
    page, faults = late
    notebook.write(
        lab.lesson / "late.ipynb",
        "from course.widgets import bench, choice, hand_in",
        'bench("l04_set_base_timing")',
        'choice("l04_why_back_off")',
        "hand_in()",
    )
    lab.open(page, "late.ipynb")
    notebook.run_all(page, HAND_IN)
    page.wait_for_selector(".engine-bench")
    set_the_brake(page)
    page.locator(f"{QUESTION} input").first.check()
    page.locator(f"{QUESTION} .cf-press").click()
    page.wait_for_function(ANSWERED, arg=QUESTION)
    page.locator(f"{HAND_IN} button").first.click()
    page.wait_for_selector(f"{HAND_IN} li")
    assert set(faults) == {LATE_PART}


def test_the_plain_page_hears_its_kernel(plain, late):
    """The bench moves its switch on the plain page, too."""
    page, faults = late
    plain.open(page)
    set_the_brake(page)
    assert set(faults) == {LATE_PART}


# Stand-ins of a front end's model, each with something missing that late_start.js would use.
LACKING = {
    "no manager": "{}",
    "no get_model": "{widget_manager: {}}",
    "get_model rejects": "{widget_manager: {get_model: () => Promise.reject(new Error('not found'))}}",
    "get_model throws": "{widget_manager: {get_model: () => { throw new Error('not found'); }}}",
    "get_model never ends": "{widget_manager: {get_model: () => new Promise(() => {})}}",
    "no model": "{widget_manager: {get_model: async () => undefined}}",
    "no method": "{widget_manager: {get_model: async () => ({comm: {on_msg: () => { throw new Error('used'); }}})}}",
    "no connection": "{widget_manager: {get_model: async () => ({_handle_comm_msg() {}})}}",
    "no way to listen": "{widget_manager: {get_model: async () => ({comm: {}, _handle_comm_msg() {}})}}",
}


@pytest.mark.parametrize("model", LACKING.values(), ids=LACKING)
def test_what_a_front_end_lacks_keeps_no_part_back(modules, model):
    """Whatever is missing or fails, the module ends its start at once, throws nothing and leaves no fault behind."""
    ended = modules(
        "shared/late_start.js",
        f"""
        const faults = [];
        const note = (event) => {{ event.preventDefault(); faults.push(String(event.reason)); }};
        addEventListener("unhandledrejection", note);
        const model = Object.assign({{get: () => "1", on: () => {{}}}}, {model});
        const result = part.hear({{model}});
        await new Promise((done) => setTimeout(done, 50));
        removeEventListener("unhandledrejection", note);
        return [result === undefined, faults];""",
    )
    assert ended == [True, []]


@pytest.mark.parametrize("layers", [0, 1, 2])
def test_messages_go_past_every_layer_that_may_hold_them_back(modules, layers):
    """A message reaches ipywidgets' own handler with the model as its owner, however many layers stand before it."""
    heard = modules(
        "shared/late_start.js",
        f"""
        class Plain {{
            heard = [];
            _handle_comm_msg(message) {{ this.heard.push(message); }}
        }}
        let Kind = Plain;
        for (let layer = 0; layer < {layers}; layer++) {{
            Kind = class extends Kind {{ _handle_comm_msg() {{ throw new Error("held back"); }} }};
        }}
        const itself = new Kind();
        itself.comm = {{on_msg(take) {{ this.take = take; }}}};
        const names = [];
        const manager = {{get_model: async (name) => {{ names.push(name); return itself; }}}};
        part.hear({{model: {{get: (name) => `value of ${{name}}`, on: () => {{}}, widget_manager: manager}}}});
        await new Promise((done) => setTimeout(done, 50));
        itself.comm.take("a word");
        return [names, itself.heard];""",
    )
    assert heard == [["value of connection"], ["a word"]]


def every_kind(folder: Path) -> dict[str, str]:
    """Write one rubric with an exercise of every kind from the trial rubrics, and return the cells that show them."""
    every = "l97_forms"
    blocks = [(TRIAL / f"{every}.toml").read_text(encoding="utf-8")]
    for path in (TRIAL / "l96_inspections.toml", TRIALS_HERE / "l95_tools.toml"):
        blocks += path.read_text(encoding="utf-8").split("\n[[exercises]]\n")[1:]
    blocks.append(next(block for block in of_l04() if 'kind = "written"' in block).partition("\n# ----")[0])
    (folder / f"{every}.toml").write_text("\n[[exercises]]\n".join(blocks), encoding="utf-8")
    cells = {one.kind: one.id for one in rubric_in(folder / f"{every}.toml").exercises.values()}
    assert set(cells) == set(KINDS)
    return {name: CELL_OF.get(kind, kind) for kind, name in cells.items()}


def of_l04() -> list[str]:
    """The exercises of l04 as its rubric's text has them."""
    return rubric_path(LESSON).read_text(encoding="utf-8").split("\n[[exercises]]\n")


def test_every_part_appears_without_a_widget_manager(server, browser, notebook, tmp_path):
    """In a front end whose models have no `widget_manager` the bench, every form and every card appear."""
    cells = every_kind(tmp_path)
    lab = Lab(server, notebook.trial_lesson(server, "l97_forms", "Robin Vale"))
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    faults, stripped = faults_of(page), []

    def without_manager(route):
        answer = route.fetch()
        text, count = re.subn(r"widget_manager: ?\w+\.widget_manager", "widget_manager: undefined", answer.text())
        stripped.append(count)
        route.fulfill(response=answer, body=text)

    page.route("**/anywidget/static/*.js*", without_manager)
    notebook.write(
        lab.lesson / "all.ipynb",
        f"import pathlib, graders.exercises.loader\ngraders.exercises.loader.FOLDER = pathlib.Path({str(tmp_path)!r})\n"
        f"from course.widgets import hand_in, picture, words, {', '.join(sorted(set(cells.values())))}",
        *(f'{cell}("{name}")' for name, cell in cells.items()),
        'picture("what_adds_up")',
        "words()",
        "hand_in()",
    )
    lab.open(page, "all.ipynb")
    notebook.run_all(page, HAND_IN)
    assert sum(stripped) == 1
    for name in cells:
        page.wait_for_selector(f":is(.course-form, .engine-bench)[data-exercise={name}]")
    for card in (".course-picture", ".course-words"):
        page.wait_for_selector(card)
    problems = page.locator(".cf-problem:visible").all_text_contents()
    context.close()
    server.end_sessions()
    assert (problems, faults) == ([], [])
