"""A button that prints one self-contained page from the browser."""

from __future__ import annotations

import anywidget
import traitlets


class PrintButton(anywidget.AnyWidget):
    """Prints `page`, a complete HTML document, without leaving the notebook.

    The page is put in a hidden frame and handed to the browser's own print dialogue, where
    it can also be kept as a PDF.
    """

    _esm = """
    function render({ model, el }) {
      const button = document.createElement("button");
      button.className = "jupyter-button widget-button lm-Widget jupyter-widgets";
      button.style.width = "auto";
      button.textContent = model.get("label");
      const frame = document.createElement("iframe");
      frame.title = model.get("label");
      frame.style.cssText = "position:fixed;width:0;height:0;border:0;visibility:hidden";
      button.addEventListener("click", () => {
        frame.onload = () => { frame.contentWindow.focus(); frame.contentWindow.print(); };
        frame.srcdoc = model.get("page");
      });
      el.append(button, frame);
    }
    export default { render };
    """
    label = traitlets.Unicode().tag(sync=True)
    page = traitlets.Unicode().tag(sync=True)
