"""What people see: the lessons, the bench and exercise widgets, the command line."""

from pathlib import Path

HERE = Path(__file__).resolve().parent
ENGINES = HERE / "engines"
SOURCE = HERE / "source"
EDITION = HERE / "edition"  # what learners get, made from SOURCE
AUTHORING = HERE / "authoring"
HANDOUTS = (AUTHORING / "glossary.md", AUTHORING / "reference_card.html")
OUTLINE = HERE / "outline.toml"
JUPYTER_SETTINGS = HERE / "jupyter" / "settings"
PROMPT_CONNECTION = "course.jupyter.prompt_connection.PromptConnection"  # by name: a server loads it when it needs it
WITHOUT_CODE = ("--LabApp.custom_css=True", "--ServerApp.jpserver_extensions=course.jupyter.without_code=True")
PRE_SAVE_HOOK = "course.authoring.placeholder_outputs.pre_save_hook"
