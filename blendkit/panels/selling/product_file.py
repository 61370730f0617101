"""Panel 10: product file — a version's facts for one market, as pages to print and as a zip."""

import ipywidgets as widgets

from blendkit.batch.label import LabelDetails, label_of
from blendkit.foundation import keep
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.journal.records import BatchPaperRow, BatchRow, BlendRow, Version
from blendkit.keeping.batch_records import kept_batches
from blendkit.keeping.details import kept_maker
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import KeptVersion, kept_versions
from blendkit.panels.kit import parts
from blendkit.panels.kit.market_choice import MarketChoice
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.panels.kit.watch import Watch
from blendkit.selling.product_file import NOTICE, ProductFile, check_sizes, pack, product_file
from blendkit.showing.kit.rendering import render
from blendkit.showing.label.layout import lay_out
from blendkit.showing.label.sizes import stickers, usual_type_size
from blendkit.showing.selling.sheets import file_page, record_page

FOLDER = "product files"
_NO_VERSION = 'No version yet: press "Keep as version" on a page with a blend.'


class ProductFilePanel(parts.Panel):
    """Version, market and certificates; pages to print, and a zip for the assessor.

    Attributes
    ----------
    certificates : list of (str, bytes)
        Name and content of what is attached.
    """

    def __init__(self) -> None:
        self._versions: dict[str, KeptVersion] = {}
        self.facts, self.attached = parts.hint(_NO_VERSION), parts.Findings("No certificate.")
        self.section = Section(self.facts)
        self.message = self.section.message
        guard = self.message.guard
        self.version = parts.choice("Version", [], "420px")
        self.market = MarketChoice(guard(self.update))
        self.identity = parts.text_box("Product", LabelDetails().identity, "420px")
        self.upload = widgets.FileUpload(
            multiple=True, description="Attach certificates …", tooltip="attach certificates",
            layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        self.upload.observe(guard(self.attach), "value")
        self.version.observe(guard(self.update), "value")
        self.watch = Watch()
        self.watch.follow(guard(self.refresh), BlendRow, Version, BatchRow, BatchPaperRow)
        typed = parts.column(
            *(self.version, *self.market.controls, self.identity),
            parts.row(self.upload, parts.button("Remove certificates", guard(self.remove))),
            self.attached.view,
            parts.row(
                parts.button("Write the product file", guard(self.write)),
                PrintButton("Print its pages", self.page),
            ),
        )
        typed.layout.flex = "0 1 440px"
        body = parts.columns(typed, self.section.found)
        self.view = parts.panel_frame(parts.hint(NOTICE), self.message.view, body, self.watch)
        self.remove()
        guard(self.refresh)()

    def refresh(self) -> None:
        """List the versions."""
        self._versions = {one.version.id: one for one in kept_versions(the_journal())}
        options = [(one.listed, key) for key, one in self._versions.items()]
        parts.set_options(self.version, options)
        self.update()

    def update(self) -> None:
        """Show what the file of the chosen version and market holds, and what it lacks."""
        if self.version.value is not None:
            self.section.attempt(self._show)

    def _show(self) -> None:
        self.facts.value = render("file_facts", file=self.file())

    def file(self) -> ProductFile:
        """Facts of the chosen version for the chosen market.

        Raises
        ------
        BadNumber
            No version was kept.
        BadBlend
            Its materials are no longer on record.
        """
        if self.version.value is None:
            raise BadNumber([Problem("version", "none", "a kept version", _NO_VERSION)])
        chosen = self._versions[self.version.value]
        blend = chosen.blend().with_(market=self.market.market)
        batches = [one for one in kept_batches() if one.row.version_id == self.version.value]
        return product_file(blend, chosen.label, [one.record() for one in batches])

    def pages(self, file: ProductFile) -> dict[str, str]:
        """Pages of the file by their names in the zip."""
        maker, contact = kept_maker(the_journal())
        batches = [{"lot": r.batch.lot, "mixed_on": r.batch.made_on} for r in file.records[:1]]
        known = {"maker": maker, "contact": contact, "identity": self.identity.value}
        label = label_of(file.blend, LabelDetails(**known, **dict(*batches)))
        size = usual_type_size(file.blend.market.region)
        layout = lay_out(label, dict(stickers())["wide wrap"], size)
        names = [name for name, _ in self.certificates]
        records = {
            f"batch records/{number:02} {keep.file_stem(one.batch.lot)}.html": record_page(one)
            for number, one in enumerate(file.records, 1)
        }
        return {"product file.html": file_page(file, layout, names), **records}

    def page(self) -> str:
        """Pages to print."""
        return self.section.printed(lambda: next(iter(self.pages(self.file()).values())))

    def write(self) -> None:
        """Write the zip to a new file in the maker's folder."""
        file = self.file()
        content = pack(file, self.pages(file), self.certificates)
        name = f"{file.product} {file.blend.market.region}"
        path = keep.save_file(FOLDER, name, ".zip", content)
        self.message.say(f"Written: {path}. It is no assessment.")

    def attach(self) -> None:
        """Attach the uploaded files; refused ones are left out."""
        given = [(str(one["name"]), bytes(one["content"])) for one in self.upload.value]
        self.upload.value = ()
        check_sizes([*self.certificates, *given])
        self.certificates += given
        self.attached.show(name for name, _ in self.certificates)

    def remove(self) -> None:
        """Remove all certificates from the file; the maker's own files stay."""
        self.certificates: list[tuple[str, bytes]] = []
        self.attached.show([])
