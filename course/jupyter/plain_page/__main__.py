"""`python -m course.jupyter.plain_page FOLDER [OPTIONS]`: serve the lessons of a folder until it is stopped."""

from course.learner.quick_jsonschema import load_jsonschema_quickly

load_jsonschema_quickly()  # before anything reads a notebook

from .server import PlainPage  # noqa: E402

if __name__ == "__main__":
    PlainPage.launch_instance()
