"""What a learner's server and the programs behind its pages need beyond the server itself, loaded before they are
forked, and so once for all. Importing it starts nothing."""

from course.learner.quick_jsonschema import load_jsonschema_quickly

load_jsonschema_quickly()  # before anything reads a notebook

import anywidget  # noqa: E402, F401
import ipykernel.kernelapp  # noqa: E402, F401
import ipywidgets  # noqa: E402, F401
import jupyterhub.singleuser.extension  # noqa: E402, F401

import course.widgets  # noqa: E402, F401
