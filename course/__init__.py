"""What people see: the lessons, the bench and exercise widgets, the command line."""

from pathlib import Path

HERE = Path(__file__).resolve().parent
ENGINES = HERE / "engines"
SOURCE = HERE / "source"
OUTLINE = HERE / "outline.toml"
JUPYTER_SETTINGS = HERE / "jupyter_settings"
PROMPT_CONNECTION = "course.prompt_connection.PromptConnection"  # by name: a server loads it when it needs it
PRE_SAVE_HOOK = "course.not_running.pre_save_hook"
