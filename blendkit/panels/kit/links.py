"""The way from one notebook to the next, as a line of links on top of a panel."""

import ipywidgets as widgets

NOTEBOOKS = {
    "01_first_bottle": "Bottle",
    "02_the_shelf": "Shelf",
    "03_skin_check": "Skin",
    "04_the_day": "Day",
    "05_why_it_fades": "Why it fades",
    "06_make_and_keep": "Bench",
    "07_make_more": "Make more",
    "08_teach_a_class": "Class",
    "09_what_next": "What next",
    "10_sell_with_a_file": "Sell",
}


def notebook_links(here: str) -> widgets.HTML:
    """Links to the other notebooks, which lie in the same folder.

    Parameters
    ----------
    here : str
        The notebook of this panel, such as "03_skin_check".
    """
    links = "".join(
        f'<a href="{name}.ipynb" aria-current="{"page" if name == here else "false"}">'
        f"{title}</a>"
        for name, title in NOTEBOOKS.items()
    )
    line = widgets.HTML(f'<nav class="bk-notebooks" aria-label="Notebooks">{links}</nav>')
    return line.add_class("bk-notebooks-place")
