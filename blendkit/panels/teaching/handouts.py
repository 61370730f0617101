"""Making the hand-outs: files in the maker's folder, each complete in itself."""

import anywidget
import traitlets

from blendkit.foundation import keep
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.shipping import package_text
from blendkit.foundation.units import counted, is_whole_number
from blendkit.panels.kit import parts
from blendkit.panels.teaching.results import ResultsSection
from blendkit.panels.teaching.sections import ClassSection
from blendkit.panels.teaching.shopping import ShoppingSection
from blendkit.showing.label.sheets import PAPERS_MM
from blendkit.showing.teach.handouts import Printing, all_handouts
from blendkit.showing.teach.words import LANGUAGES

KIND = "handouts"
_HINT = (
    "Each hand-out is one file in a folder of this class. It opens from a memory stick or a "
    "phone, with neither network nor workbook, and prints from the browser: “before” holds the "
    "shopping list and a form for each seat, “print-all” everything for the day in the right "
    "order and number. Once Results holds drops, take-home pages are filled in."
)


class FileLinks(anywidget.AnyWidget):
    """Links to files of the maker's folder, which JupyterLab serves.

    Attributes
    ----------
    files : list of dict
        "name" as shown, "path" below the maker's folder, "size" in words.
    """

    _esm = package_text("panels/teaching/file_links.js")
    files = traitlets.List(traitlets.Dict()).tag(sync=True)


class HandOutSection(ClassSection):
    """A button that makes them all, and links to open each."""

    def __init__(self, results: ResultsSection, shopping: ShoppingSection) -> None:
        self.results, self.shopping = results, shopping
        self.language = parts.choice(
            "Language", [(name, code) for code, name in LANGUAGES.items()]
        )
        self.paper = parts.choice("Paper", list(PAPERS_MM))
        self.seed = parts.text_box("Exercises no.", "1", "190px")
        self.links = FileLinks()
        super().__init__(self.links)
        making = self.message.guard(self.make, "Making the hand-outs …")
        make = parts.button("Make the hand-outs", making)
        above = (parts.hint(_HINT), self.language, self.paper, self.seed, parts.row(make))
        self.view.children = (*above, *self.view.children)

    def make(self) -> None:
        """Write every hand-out to a new folder."""
        plan = self.good_plan()
        seed = parts.number_of(self.seed.value)
        if not is_whole_number(seed):
            needed = "a whole number; another one gives other exercises"
            raise BadNumber([Problem("Exercises no.", quoted(self.seed.value), needed)])
        printing = Printing(
            self.language.value, self.paper.value, seed, self.shopping.listed,
            *self.results.mixed(),
        )  # fmt: skip
        pages = all_handouts(plan, self.card, printing)
        folder = keep.new_folder(KIND, plan.name)
        made = [keep.save_page(folder, name, page) for name, page in pages.items()]
        self.links.files = [
            {
                "name": file.name,
                "path": file.relative_to(keep.home()).as_posix(),
                "size": f"{file.stat().st_size / 1000:.0f} kB",
            }
            for file in made
        ]
        where = keep.home() / folder
        self.message.say(f"{counted(len(made), 'hand-out')} made in {where}. Open them here:")
