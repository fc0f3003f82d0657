"""Our style sheet for JupyterLab, for a server that shows lessons: folded cells without the first line of their code.

JupyterLab loads `custom.css` from the server's `static_custom_path`, which is no setting: so this is an extension of
the server, named in `ServerApp.jpserver_extensions`, beside `LabApp.custom_css`.
"""

from __future__ import annotations

from pathlib import Path

from jupyter_server.serverapp import ServerApp

STYLES = Path(__file__).resolve().parent / "custom"


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": __name__}]


def _load_jupyter_server_extension(server: ServerApp) -> None:
    """Put our folder before the user's own, whose style sheet is then not read."""
    server.static_custom_path.insert(0, str(STYLES))
