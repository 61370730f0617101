"""A button that prints one self-contained page from the browser."""

from collections.abc import Callable
from typing import Any

import anywidget
import traitlets

from blendkit.foundation.shipping import package_text
from blendkit.panels.kit.deferred import Deferred


class PrintButton(anywidget.AnyWidget):
    """Prints a page without leaving the notebook.

    The page is made when it is asked for, put in a hidden frame and handed to the browser's
    own print dialogue, where it can also be kept as a PDF.

    Parameters
    ----------
    label : str
    make_page : callable
        Gives a complete HTML document.

    Attributes
    ----------
    warning : str
        What to know before printing, marked on the button; "" for nothing.
    """

    _esm = package_text("panels/kit/print_button.js")
    label = traitlets.Unicode().tag(sync=True)
    warning = traitlets.Unicode().tag(sync=True)

    def __init__(self, label: str, make_page: Callable[[], str]) -> None:
        super().__init__(label=label)
        self.make_page = make_page
        self.on_msg(self._answer)

    def _answer(self, *_: Any) -> None:
        Deferred.finish_all()
        self.send({"page": self.make_page()})
