"""What a learner's server and the programs behind its pages need beyond the server itself, loaded before they are
forked, and so once for all. Importing it starts nothing."""

import anywidget  # noqa: F401
import ipykernel.kernelapp  # noqa: F401
import ipywidgets  # noqa: F401
import jupyterhub.singleuser.extension  # noqa: F401

import course.widgets  # noqa: F401
