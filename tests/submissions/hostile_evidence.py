"""Evidence that is not what a lesson wrote, in an otherwise sound hand-in."""

from __future__ import annotations

import json
import os

from tests import scripted_learner

from .making import (
    ANSWERED,
    ANSWERS,
    BENCH,
    CHOSEN,
    EVIDENCE,
    NOTHING,
    SCRIPT,
    answer,
    answered,
    beside_honest_work,
    chained,
    header,
    hostile,
    rewritten,
    right_answers,
)


@hostile(NOTHING, "is empty")
def evidence_empty(folder, learner, class_id):
    """A file of no length."""
    (folder / EVIDENCE).write_bytes(b"")


@hostile(ANSWERED, "cut off")
def evidence_torn(folder, learner, class_id):
    """A last line of which half is there."""
    lines = answered(folder, learner, class_id, answer("l04_why_back_off", "peak_is_right"))
    rewritten(folder, [*lines[:-1], lines[-1][:40]])


@hostile(NOTHING, "seal of this line")
def evidence_edited(folder, learner, class_id):
    """An answer made right by hand."""
    rewritten(folder, [line.replace(b"adds_up", b"lower_idle") for line in answered(folder, learner, class_id)])


@hostile(NOTHING, "seal of this line")
def evidence_reordered(folder, learner, class_id):
    """Two lines in each other's place."""
    first, one, two, *rest = answered(folder, learner, class_id)
    rewritten(folder, [first, two, one, *rest])


@hostile(NOTHING, "seal of this line")
def evidence_duplicated(folder, learner, class_id):
    """A line written twice."""
    lines = answered(folder, learner, class_id)
    rewritten(folder, [*lines, lines[-1]])


@hostile(NOTHING, "seal of this line")
def evidence_appended_twice(folder, learner, class_id):
    """The whole file after itself."""
    rewritten(folder, answered(folder, learner, class_id) * 2)


@hostile(NOTHING, "was written by 'a friend'")
def evidence_of_another_learner(folder, learner, class_id):
    """A friend's file."""
    answered(folder, "a friend", class_id)


@hostile(NOTHING, "belongs to lesson 'l03_hook_up'")
def evidence_of_another_lesson(folder, learner, class_id):
    """The file of the lesson before."""
    answered(folder, learner, class_id, lesson="l03_hook_up")


@hostile(NOTHING, "made on an engine with digest")
def evidence_of_another_engine(folder, learner, class_id):
    """One's own name on an engine that suits one better."""
    answered(folder, learner, class_id, engine="0" * 32)


@hostile(NOTHING, "is written in schema 7")
def evidence_of_another_schema(folder, learner, class_id):
    """A format that this edition does not know."""
    answered(folder, learner, class_id, schema=7)


@hostile(ANSWERED, "done on engine model 999")
def evidence_of_a_newer_model(folder, learner, class_id):
    """The engine of a later edition: what is asked of no engine is judged."""
    answered(folder, learner, class_id, answer(BENCH, "on", control="brake"), model="999")


@hostile(NOTHING, "goes back from 90 s to 30 s")
def clock_going_backwards(folder, learner, class_id):
    """An act before the one before it."""
    answered(
        folder,
        learner,
        class_id,
        answer(BENCH, "on", None, 90.0, "brake"),
        answer(BENCH, "in place", None, 30.0, "chocks"),
    )


@hostile(NOTHING, "one JSON object was wanted")
def not_a_number(folder, learner, class_id):
    """NaN, which Python writes and JSON does not know."""
    answered(folder, learner, class_id, answer("l04_altitude_vacuum", float("nan"), "inHg"))


@hostile(NOTHING, "one JSON object was wanted")
def infinity(folder, learner, class_id):
    """An infinite answer."""
    answered(folder, learner, class_id, answer("l04_altitude_vacuum", float("inf"), "inHg"))


@hostile(NOTHING, "one JSON object was wanted")
def number_beyond_all_numbers(folder, learner, class_id):
    """A number that JSON allows and that is infinite once it is read."""
    lines = answered(folder, learner, class_id)
    text = json.dumps(answer("l04_altitude_vacuum", 15.8, "inHg"))
    rewritten(folder, [*lines, text.replace("15.8", "1e999").encode() + b"\n"])


@hostile(NOTHING, "time_s must be a number")
def time_beyond_all_time(folder, learner, class_id):
    """An act in the year three million."""
    answered(folder, learner, class_id, answer(BENCH, "on", None, 1e14, "brake"))


@hostile(ANSWERED)
def unit_mixed_up(folder, learner, class_id):
    """A first try in the wrong unit, then the right one: the best try counts."""
    wrong = answer("l04_altitude_vacuum", 15.8, "crank degrees")
    right = answer("l04_altitude_vacuum", 15.8, "inHg")
    rewritten(folder, chained([header(learner, class_id), wrong, *right_answers(), right]))


@hostile(NOTHING, "MB long")
def evidence_of_500_mb(folder, learner, class_id):
    """Half a gigabyte (a sparse file: it takes no room here)."""
    answered(folder, learner, class_id)
    os.truncate(folder / EVIDENCE, 500_000_000)


@hostile(NOTHING, "MB long")
def a_million_events(folder, learner, class_id):
    """A million answers, a hundred and thirty megabytes of them."""
    digest, line = "0" * 32, json.dumps(answer("l04_why_back_off", "adds_up"), separators=(",", ":"))
    with (folder / EVIDENCE).open("wb") as file:
        file.writelines(answered(folder, learner, class_id))
        block = (line[:-1] + f',"digest":"{digest}"}}\n').encode() * 10_000
        for _ in range(100):
            file.write(block)


@hostile(ANSWERED)
def as_many_events_as_may_be(folder, learner, class_id):
    """A sound chain as long as the judge still reads: a hundred thousand answers."""
    answered(folder, learner, class_id, *[answer("l04_why_back_off", "adds_up")] * 100_000)


@hostile(ANSWERED, "There is no control 'turbocharger'")
def impossible_acts(folder, learner, class_id):
    """Controls that do not exist and values that they cannot take, in a sound chain."""
    answered(
        folder,
        learner,
        class_id,
        answer(BENCH, None, None, 1.0, "turbocharger"),
        answer(BENCH, "sideways", None, 2.0, "brake"),
    )


@hostile(ANSWERED)
def months_of_engine_time(folder, learner, class_id):
    """A sound chain that asks the judge's engine to run for months."""
    safe = [answer(BENCH, value, None, 1.0, control) for control, value in scripted_learner.SAFE.items()]
    answered(
        folder,
        learner,
        class_id,
        *safe,
        answer(BENCH, None, None, 2.0, "starter"),
        answer(BENCH, None, None, 9e6, "read_gauges"),
    )


@hostile(NOTHING, "written by")
def a_name_of_a_million_letters(folder, learner, class_id):
    """A header whose learner fills a book."""
    lines = chained([header("x", class_id) | {"learner": "<b>" * 400_000}, *right_answers()])
    rewritten(folder, lines)


@hostile(NOTHING, "written by")
def script_for_a_name(folder, learner, class_id):
    """A header whose learner is a script."""
    rewritten(folder, chained([header("x", class_id) | {"learner": SCRIPT}, *right_answers()]))


@hostile(NOTHING, "not UTF-8 text")
def evidence_not_text(folder, learner, class_id):
    """A picture under the evidence's name."""
    (folder / EVIDENCE).write_bytes(b"\x89PNG\r\n\x1a\n\xff\x00" * 50)


@hostile(CHOSEN)
def units_mixed_up_for_good(folder, learner, class_id):
    """Both numbers in the other one's unit, with no better try: what was chosen keeps its points."""
    numbers = {exercise: unit for exercise, _, unit in ANSWERS if unit}
    swapped = dict(zip(numbers, reversed(numbers.values()), strict=True))
    rewritten(
        folder,
        chained(
            [
                header(learner, class_id),
                *(answer(exercise, value, swapped.get(exercise)) for exercise, value, _ in ANSWERS),
            ]
        ),
    )


@hostile(ANSWERED, "done on engine model 1")
def evidence_of_an_older_model(folder, learner, class_id):
    """The engine of an edition before."""
    answered(folder, learner, class_id, answer(BENCH, "on", control="brake"), model="1")


@hostile(NOTHING, "is not the header")
def evidence_without_a_header(folder, learner, class_id):
    """Acts of nobody, in a sound chain."""
    rewritten(folder, chained(right_answers()))


@hostile(NOTHING, "another learner, lesson or class than the first")
def evidence_with_two_headers(folder, learner, class_id):
    """A friend's header after one's own, as an update of the course writes one, in a sound chain."""
    rewritten(folder, chained([header(learner, class_id), header("a friend", class_id), *right_answers()]))


@hostile(NOTHING, "one JSON object was wanted")
def evidence_deeply_nested(folder, learner, class_id):
    """Brackets within brackets until a parser gives up."""
    rewritten(folder, [*answered(folder, learner, class_id), b"[" * 200_000 + b"\n"])


@hostile(NOTHING, "one JSON object was wanted")
def number_of_ten_thousand_digits(folder, learner, class_id):
    """A whole number that takes a parser for ever, or that it refuses."""
    text = json.dumps(answer("l04_altitude_vacuum", 15.8, "inHg")).replace("15.8", "9" * 10_000)
    rewritten(folder, [*answered(folder, learner, class_id), text.encode() + b"\n"])


@hostile(NOTHING, "value must be a number from")
def number_of_four_hundred_digits(folder, learner, class_id):
    """A whole number that a parser reads and no computation takes, in a sound chain."""
    answered(folder, learner, class_id, answer("l04_altitude_vacuum", 10**400 - 1, "inHg"))


@hostile(NOTHING, "not UTF-8 text")
def halves_of_letters(folder, learner, class_id):
    """Half of a letter, which JSON can write and no text can hold."""
    text = json.dumps(answer("l04_explain", "\ud800")).encode()
    rewritten(folder, [*answered(folder, learner, class_id), text + b"\n"])


@beside_honest_work()
def control_characters_in_the_answer(folder):
    """Bells, nothings and turns of direction in the written answer."""
    lines = (folder / EVIDENCE).read_bytes().splitlines()
    known = [{name: value for name, value in json.loads(line).items() if name != "digest"} for line in lines]
    rewritten(folder, chained([*known, answer("l04_explain", "".join(map(chr, range(32))) + "\u202e\ufeff\u2028 x")]))


@hostile(NOTHING, "value must be text")
def answers_of_another_kind(folder, learner, class_id):
    """A list, a table and a truth where a text or a number is wanted, in a sound chain."""
    answered(folder, learner, class_id, *(answer("l04_why_back_off", value) for value in (["adds_up"], {"a": 1}, True)))


@hostile(ANSWERED, "made for class 'autumn'")
def evidence_of_another_class(folder, learner, class_id):
    """One's own name under another class, where the engines are others."""
    answered(folder, learner, "autumn")


@hostile(ANSWERED, "it is not what a bench writes")
def waits_that_take_no_time(folder, learner, class_id):
    """Ten thousand waits at one time of the clock."""
    safe = [answer(BENCH, value, None, 0.0, control) for control, value in scripted_learner.SAFE.items()]
    started = answer(BENCH, None, None, 1.0, "starter")
    answered(folder, learner, class_id, *safe, started, *[answer(BENCH, None, None, 20.0, "wait")] * 10_000)


@beside_honest_work()
def saved_as_utf_16(folder):
    """An editor opened the evidence and saved it in two bytes a sign."""
    path = folder / EVIDENCE
    path.write_bytes(path.read_text(encoding="utf-8").encode("utf-16"))


@hostile(NOTHING, "\\x1b]0;owned")
def a_name_that_commands_the_terminal(folder, learner, class_id):
    """A header whose learner sets the window's title and clears the screen."""
    answered(folder, "\x1b]0;owned\x07\x1b[2J", class_id)
