"""A press that is not answered: each form says at once what is under way, and then what became of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.conftest import let_time_pass

LESSON = "l96_inspections"

# A form over a model that keeps what is sent, on a page whose clock can be moved on.
FORM = """
    const listeners = {}, sent = [];
    const state = {kind: 'choice', exercise: 'one', title: 'One', question: '', points: 1, units: ['rpm'],
                   choices: [['a', 'A'], ['b', 'B']], longest: 100, beside: [], marking: [], samples: [], own: {},
                   answer: {}, tries: 0, said: {}, result: {}, problem: '',
                   lesson: 'l99', learner: 'Robin Vale', step: 'begin', missing: [], ...given};
    const model = {
        get: (name) => state[name],
        on: (name, listener) => (listeners[name] ??= []).push(listener),
        off: (name, listener) => { listeners[name] = (listeners[name] ?? []).filter((one) => one !== listener); },
        send: (message) => { if (given.fails) throw new Error('Cannot send'); sent.push(message); },
    };
    const call = (name, what) => (listeners[name] ?? []).forEach((listener) => listener(what));
    const set = (name, value) => { state[name] = value; call(`change:${name}`); call('change'); };
    const answer = (number) => call('msg:custom', {alive: number});
    const now = performance.now.bind(performance), every = window.setInterval.bind(window);
    let later = 0;
    performance.now = () => now() + later;
    window.setInterval = (look) => every(look, 20);
    const pass = async (ms) => { later += ms; await new Promise((done) => setTimeout(done, 100)); };
    const el = document.createElement('div');
    document.body.replaceChildren(el);
    const leave = part.default.render({model, el});
    const press = () => el.querySelector('.cf-press').click();
    const shown = () => [el.querySelector('.cf-said').textContent,
                         el.querySelector('.cf-kernel').hidden ? '' : el.querySelector('.cf-kernel').textContent];
"""


@pytest.fixture
def form(modules):
    """Try a script on a form: `form("forms/choice.js", "{kind: 'choice'}", "press(); return shown();")`."""

    def tried(name: str, given: str, script: str):
        return modules(name, f"const given = {given};{FORM}{script}")

    return tried


@pytest.mark.parametrize(
    ("kind", "at_once", "in_the_end"),
    [
        ("choice", "being recorded", "not recorded yet"),
        ("number", "being recorded", "not recorded yet"),
        ("written", "being saved", "Copy it"),
    ],
)
def test_a_press_without_an_answer_does_not_look_like_nothing(form, kind, at_once, in_the_end):
    """At once it says that something is under way, after a while that the program is slow, and in the end that it does
    not answer and what was not done; an answer that comes after all takes these words away."""
    said = form(
        f"forms/{kind}.js",
        f"{{kind: '{kind}'}}",
        """
        const all = [];
        press(); all.push(shown());
        await pass(5000); all.push(shown());
        await pass(20000); all.push(shown());
        set('said', {number: 1, kind: 'done', sentence: 'Your answer is recorded.'});
        answer(sent.at(-1).heartbeat); all.push(shown());
        leave();
        return all;""",
    )
    assert at_once in said[0][0] and said[0][1] == ""
    assert at_once in said[1][0] and "busy or slow" in said[1][1]
    assert in_the_end in said[2][0] and "does not answer" in said[2][1]
    assert said[3] == ["Your answer is recorded.", ""]


def test_somebody_alone_chooses_a_level_for_each_criterion(form):
    """The table appears with the saved text; what is chosen is sent when it is pressed, and shown as it was kept."""
    before, legends, sent, checked, samples = form(
        "forms/written.js",
        "{kind: 'written'}",
        """
        const before = el.querySelectorAll('fieldset').length;
        set('marking', [{id: 'safe', title: 'Safe', points: 2, levels: ['No.', 'Nearly.', 'Yes.']},
                        {id: 'right', title: 'Right', points: 2, levels: ['No.', 'Nearly.', 'Yes.']}]);
        set('samples', [{to: 'letter D', text: 'Dear Anselm', marks: 'Safe: 2 of 2', why: 'First of all.',
                         points: '10 of 10 points'}]);
        const legends = [...el.querySelectorAll('legend')].map((one) => one.textContent);
        const levels = el.querySelectorAll('fieldset input');
        levels[2].click(); levels[4].click();
        el.querySelector('.cf-alone .cf-press').click();
        const marks = sent.at(-1);
        set('own', marks.own_marks);
        const checked = [...el.querySelectorAll('fieldset input')].map((one) => one.checked);
        return [before, legends, marks, checked, el.querySelector('.cf-sample').textContent];""",
    )
    assert before == 0 and legends == ["Safe", "Right"] and sent == {"own_marks": {"safe": 2, "right": 1}}
    assert checked == [False, False, True, False, True, False] and "Dear Anselm" in samples
    assert "A sample, to letter D: 10 of 10 points" in samples


def test_an_answered_press_says_nothing_of_the_program(form):
    """What was sent is the answer and a question behind it; answered in time, only the answer's own words stand."""
    said, sent = form(
        "forms/choice.js",
        "{kind: 'choice'}",
        """
        press();
        set('said', {number: 1, kind: 'done', sentence: 'Your answer is recorded.'});
        answer(sent.at(-1).heartbeat);
        await pass(30000);
        leave();
        return [shown(), sent];""",
    )
    assert said == ["Your answer is recorded.", ""]
    assert [list(message) for message in sent] == [["answer"], ["heartbeat"]]


@pytest.mark.parametrize(
    ("name", "given", "words"),
    [
        ("forms/choice.js", "{kind: 'choice', fails: true}", "not recorded yet"),
        ("cards/hand_in.js", "{fails: true}", "no file was made"),
    ],
)
def test_a_connection_that_is_gone_is_said_at_every_press(form, name, given, words):
    """Where nothing can be sent any more the first press says so at once, and so does the second."""
    for presses in ("press();", "press(); press();"):
        said, kernel = form(name, given, f"{presses} leave(); return shown();")
        assert words in said and "does not answer" in kernel


def test_the_button_to_hand_in_tells_that_it_waits(form):
    """At once it looks through the work; an answer that changes nothing puts back what stood there."""
    said = form(
        "cards/hand_in.js",
        "{said: 'Some of your work is missing:', step: 'ask'}",
        """
        const all = [];
        press(); all.push(shown());
        await pass(25000); all.push(shown());
        answer(sent.at(-1).heartbeat); all.push(shown());
        leave();
        return all;""",
    )
    assert said[0] == ["Looking through your work…", ""]
    assert "no file was made" in said[1][0] and "does not answer" in said[1][1]
    assert said[2] == ["Some of your work is missing:", ""]


@pytest.fixture
def lesson(server, notebook) -> Path:
    """A lesson folder whose notebook shows a needle and a fault of the trial rubric."""
    return notebook.trial_lesson(server, LESSON, "Robin Vale")


def test_needle_and_fault_tell_a_kernel_that_is_slow_or_gone(lab, server, desk, notebook):
    """A look at the fault waits for a busy kernel, says so, and is told when it comes; with the kernel gone the needle
    shows no reading that nobody answers for, and a recorded name is told to be none."""
    desk.set_viewport_size({"width": 1280, "height": 2600})
    notebook.open_trial(lab, desk, {"l96_needle": "needle", "l96_fault": "diagnosis"}, ".cf-diagnosis")
    needle, fault = desk.locator(".cf-needle[data-exercise]"), desk.locator(".cf-diagnosis")
    needle.locator(".eb-dial-note", has_text="at idle").wait_for(timeout=40_000)
    lab.occupy_kernel(desk)
    fault.locator("[data-inspection=hose_trace]").click()
    assert "this takes a moment" in fault.locator(".cf-hint[role=status]").inner_text()
    let_time_pass(desk, 5_000)
    fault.locator(".cf-kernel", has_text="busy or slow").wait_for(timeout=15_000)
    lab.free_kernel()
    fault.locator(".cf-kernel").wait_for(state="hidden", timeout=15_000)
    fault.locator("tr[data-made=true]").wait_for(timeout=15_000)
    server.end_sessions()
    needle.locator("[data-hand=hold]").click()
    fault.locator(".cf-press").click()
    let_time_pass(desk, 25_000)
    for form in (needle, fault):
        form.locator(".cf-kernel", has_text="Restart Kernel").wait_for(timeout=40_000)
    assert needle.locator(".eb-needle").evaluate("needle => getComputedStyle(needle).visibility") == "hidden"
    assert "not recorded yet" in fault.locator(".cf-said").inner_text()
