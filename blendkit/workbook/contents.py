"""Notebooks as JupyterLab reads them: without saved widgets."""

from typing import Any

from jupyter_server.services.contents.largefilemanager import AsyncLargeFileManager


class NotebooksWithoutWidgetState(AsyncLargeFileManager):
    """Reads notebooks without the widget state saved in their metadata.

    A page restores such widgets as soon as a notebook opens, beside Jupyter's trust, and a
    widget may bring a script. The panels need none: they are asked of their kernel.
    """

    async def get(self, *path: Any, **options: Any) -> dict[str, Any]:
        """A file or folder as Jupyter's own contents manager gives it."""
        model: dict[str, Any] = await super().get(*path, **options)
        if model["type"] == "notebook" and model["content"]:
            model["content"]["metadata"].pop("widgets", None)
        return model
