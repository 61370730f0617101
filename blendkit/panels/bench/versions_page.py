"""Versions side by side: changes, reasons and likes."""

from typing import Any

import ipywidgets as widgets

from blendkit.foundation.errors import BadNumber, Problem, Refused
from blendkit.journal.records import Like, Version
from blendkit.journal.store import now
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.versions import KeptVersion, kept_versions
from blendkit.making.versions import compare
from blendkit.panels.bench.tray import Guard
from blendkit.panels.kit import parts
from blendkit.showing.bench.fragments import likes_in_words

MOST_LISTED = 12


class VersionsPage:
    """Comparison of two versions of one blend.

    Parameters
    ----------
    guard : callable
        Wraps callbacks, as `Message.guard`.
    """

    def __init__(self, guard: Guard) -> None:
        self._kept: dict[str, KeptVersion] = {}
        self.blend = parts.choice("Blend", [])
        self.before, self.after = parts.choice("From", []), parts.choice("To", [])
        self.changes = parts.Findings("No version was kept yet.")
        self.reasons = parts.Findings("")
        self.pictures = widgets.HBox(layout=widgets.Layout(flex_flow="row wrap"))
        self.person = parts.text_box("Who", width="300px")
        self.liked = parts.button("Record like", guard(lambda: self.note(liked=True)))
        self.disliked = parts.button("Record dislike", guard(lambda: self.note(liked=False)))
        self.withdrawn = parts.button("Withdraw", guard(self.withdraw))
        self._withdrawn: Version | None = None
        self.restored = parts.button("Undo withdrawing", guard(self.restore))
        self.restored.layout.display = "none"
        self.blend.observe(guard(self.offer_versions), "value")
        for chooser in (self.before, self.after):
            chooser.observe(guard(self.compare), "value")
        self.view = parts.column(
            self.blend,
            self.before,
            self.after,
            parts.heading("Changes"),
            self.changes.view,
            self.pictures,
            parts.heading("Reasons and likes"),
            self.reasons.view,
            parts.row(self.person, self.liked, self.disliked),
            parts.row(self.withdrawn, self.restored),
        )

    def refresh(self) -> None:
        """List the versions in the journal; `CannotJournal` where it cannot be read."""
        kept = kept_versions(the_journal())
        self._kept = {one.version.id: one for one in kept}
        names = dict.fromkeys(one.name for one in kept)
        parts.set_options(self.blend, [(name, name) for name in names])
        self.offer_versions()

    def offer_versions(self) -> None:
        """Offer the versions of the chosen blend, the newest two first."""
        of_name = [one for one in self._kept.values() if one.name == self.blend.value]
        options: list[tuple[str, Any]] = [(one.short_label, one.version.id) for one in of_name]
        for chooser, place in ((self.before, 1), (self.after, 0)):
            if list(chooser.options) != options:
                chooser.options = options
                chooser.value = options[min(place, len(options) - 1)][1] if options else None
        self.compare()

    def compare(self) -> None:
        """Show the changes and both bottles."""
        before, after = (self._kept.get(c.value or "") for c in (self.before, self.after))
        self.pictures.children = []
        if before is None or after is None:
            self.changes.show([])
            self.reasons.show([])
            return
        self.reasons.show(self._reasons())
        self.liked.description = f"Record like of {after.short_label}"
        self.disliked.description = f"Record dislike of {after.short_label}"
        self.withdrawn.description = f"Withdraw version {after.number}"
        try:
            was, now_it_is = before.blend(), after.blend()
        except Refused as error:  # the page must open, whatever was kept
            self.changes.show([f"These two cannot be compared. {error}"])
            return
        self.changes.show(compare(was, now_it_is))
        self.pictures.children = [
            parts.titled_bottle(kept.short_label.capitalize(), blend.bottle)
            for kept, blend in ((before, was), (after, now_it_is))
        ]

    def note(self, *, liked: bool) -> None:
        """Record a like or dislike of the second version."""
        person = self.person.value.strip()
        version = self._kept.get(self.after.value or "")
        if not person or version is None:
            raise BadNumber([Problem("who", "nobody", "a name")])
        the_journal().add(
            Like(version_id=version.version.id, person=person, liked=liked, happened_at=now())
        )
        self.person.value = ""
        self.reasons.show(self._reasons())

    def withdraw(self) -> None:
        """Withdraw the second version, so that nothing opens with it; its row stays."""
        chosen = self._kept.get(self.after.value or "")
        if chosen is None:
            raise BadNumber([Problem("version", "none", "a version to withdraw")])
        the_journal().withdraw(chosen.version)
        self._withdrawn = chosen.version
        self.restored.layout.display = None
        self.refresh()

    def restore(self) -> None:
        """Bring back the version that was withdrawn last."""
        if self._withdrawn is not None:
            the_journal().restore(self._withdrawn)
        self.restored.layout.display = "none"
        self.refresh()

    def _reasons(self) -> list[str]:
        journal = the_journal()
        of_name = [one for one in self._kept.values() if one.name == self.blend.value]
        sentences = []
        for one in of_name[:MOST_LISTED]:
            likes = likes_in_words(journal.all(Like, version_id=one.version.id))
            why = f"“{one.version.why}” " if one.version.why else ""
            sentences.append(f"Version {one.number}: {why}{likes}")
        left = len(of_name) - len(sentences)
        return [*sentences, f"And {left} earlier."] if left else sentences
