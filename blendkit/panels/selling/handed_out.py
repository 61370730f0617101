"""Who got which bottle: handovers, gift tags, reactions, recalls, and forgetting somebody."""

from __future__ import annotations

from datetime import date
from typing import Any

import ipywidgets as widgets

from blendkit.batch.label import LabelDetails, label_of
from blendkit.blend.blend import Blend
from blendkit.blend.market import Market, regions
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade_words import whole_line
from blendkit.evaporation.lasting import lasting_of
from blendkit.evaporation.wear import film_of
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import counted, is_whole_number
from blendkit.journal.people_table import FIELDS, Person
from blendkit.journal.records import BatchBottles, BatchMaterial, BatchRow, HandoverRow, Version
from blendkit.keeping import handing
from blendkit.keeping.details import kept_maker
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import day_of
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.watch import Watch
from blendkit.selling import trace
from blendkit.selling.reactions import ReactionDuty, reaction_duties
from blendkit.showing.selling import handouts

MOST_LISTED, MOST_TAGS = 300, 60
_NARROW = "230px"
_NEW = ("somebody new", "")


class HandedOutPanel(parts.Panel):
    """Handovers, and the trail of every lot both ways."""

    def __init__(self) -> None:
        self.message = parts.Message()
        guard = self.message.guard
        self.trails: dict[str, trace.Trail] = {}
        self.people: handouts.People = {}
        self.trace = parts.choice("Trace", [])
        self.picture = widgets.HTML()
        recall = (
            PrintButton("Print recall list", lambda: self.recall_page(names=True)),
            PrintButton("Print without names", lambda: self.recall_page(names=False)),
        )
        self.batch = parts.choice("Batch", [])
        self.way = parts.choice("As", ["gift", "sale", "tester"], _NARROW)
        self.bottles = parts.text_box("Bottles", "1", _NARROW)
        self.day = parts.text_box("Handed over on", "", _NARROW, placeholder="today")
        self.person = parts.choice("To", [_NEW])
        self.about = {key: parts.text_box(key.capitalize()) for key in FIELDS}
        self.entry = parts.choice("Handover", [])
        self.tags = PrintButton("Print gift tags", self.tag_page)
        self.reaction = Reactions(self)
        self.forgotten = parts.choice("Forget", [])
        self.is_sure = parts.tick("the name, contact, note and reports are deleted for good")
        self.left = parts.Findings("")
        form = parts.column(
            parts.heading("Hand out bottles"),
            self.batch,
            self.way,
            self.bottles,
            self.day,
            self.person,
            *self.about.values(),
            parts.row(parts.button("Record handover", guard(self.hand_out)), self.tags),
            self.reaction.view,
            parts.fold(
                "Undo a handover",
                self.entry,
                parts.button("Undo this handover", guard(self.undo)),
            ),
            parts.fold(
                "Forget somebody",
                parts.hint(_FORGET),
                self.forgotten,
                self.is_sure,
                parts.button("Forget this person", guard(self.forget)),
                self.left.view,
            ),
        )
        form.layout.max_width = "440px"
        found = parts.results(self.trace, self.picture, parts.row(*recall))
        self.watch = Watch()
        kinds = (HandoverRow, BatchRow, BatchBottles, BatchMaterial)
        self.watch.follow(guard(self.refresh), *kinds)
        self.trace.observe(guard(self.show), "value")
        self.person.observe(guard(self.ask_about), "value")
        self.view = parts.panel_frame(self.message.view, parts.columns(form, found), self.watch)
        guard(self.refresh)()

    def refresh(self) -> None:
        """Offer and show what is on record now."""
        journal = the_journal()
        found = trace.trails(journal)
        self.trails = {trail.batch.id: trail for trail in found}
        self.people = handing.people_on_record(journal)
        batches = [(_named(trail), trail.batch.id) for trail in found[:MOST_LISTED]]
        people = sorted(
            (parts.shorten(handing.name_of(self.people, id)), id)
            for id, each in self.people.items()
            if not each.forgotten
        )
        people = people[:MOST_LISTED]
        handed = [(self._words(row, trail), row.id) for trail in found for row in trail.handed]
        parts.set_options(self.batch, batches)
        parts.set_options(self.person, [_NEW, *people])
        parts.set_options(self.forgotten, people)
        parts.set_options(self.entry, handed[:MOST_LISTED])
        parts.set_options(self.reaction.bottle, handed[:MOST_LISTED])
        lots = [
            (f"lot {each.lot} of {each.name}", ("lot", *each[:2])) for each in trace.lots(found)
        ]
        parts.set_options(
            self.trace,
            [
                *lots,
                *((name, ("batch", id, "")) for name, id in batches),
                *((f"bottles of {name}", ("person", id, "")) for name, id in people),
            ],
        )
        self.show()
        self.ask_about()
        self.reaction.show()

    def traced(self) -> trace.Recall:
        """What holds the lot chosen; or the batch, or the batches of the person chosen."""
        kind, id, lot = self.trace.value or ("batch", "", "")
        if kind == "lot":
            return trace.recall(self.trails.values(), the_journal(), id, lot)
        found = (
            trail
            for trail in self.trails.values()
            if id == trail.batch.id or id in (row.person for row in trail.handed)
        )
        return trace.Recall(tuple(found), (), ())

    def show(self) -> None:
        """Draw the trail of what is chosen."""
        with_sources = (self.trace.value or ("lot",))[0] != "lot"
        title, found = self.trace.label or "Nothing on record yet", self.traced()
        self.picture.value = handouts.picture(
            title, found, self.people, with_sources=with_sources
        )

    def recall_page(self, *, names: bool) -> str:
        """The list of the trail chosen, as a page."""
        kind = (self.trace.value or ("",))[0]
        title = handing.UNNAMED if kind == "person" and not names else self.trace.label or ""
        return handouts.recall_page(title, self.traced(), self.people, names=names)

    def ask_about(self) -> None:
        """Show the boxes about a person only for somebody new."""
        for box in self.about.values():
            box.layout.display = "none" if self.person.value else None

    def hand_out(self) -> None:
        """Record a handover."""
        trail = self._trail()
        person: Any = self.person.value or {key: box.value for key, box in self.about.items()}
        bottles = parts.number_of(self.bottles.value)
        row = handing.hand_out(
            the_journal(), trail, self.way.value, bottles, self.day.value, person
        )
        for box in self.about.values():
            box.value = ""
        self.refresh()
        self.trace.value = ("batch", row.batch_id, "")
        left = counted(self.trails[row.batch_id].here, "bottle")
        self.message.say(
            f"Recorded: {row.way}, {row.bottles} of lot {trail.batch.lot}. {left} still here."
        )

    def undo(self) -> None:
        """Withdraw a handover; its bottles are here again."""
        if self.entry.value:
            words, journal = self.entry.label, the_journal()
            journal.withdraw(journal.get(HandoverRow, self.entry.value))
            self.refresh()
            self.message.say(f"Undone: {words}.")

    def forget(self) -> None:
        """Forget the chosen person, here and in every copy in reach."""
        if not self.is_sure.value or not self.forgotten.value:
            raise BadNumber([Problem("forget", "no tick", "a person, and the tick")])
        done = handing.forget_person(the_journal(), self.forgotten.value)
        self.is_sure.value = False
        self.refresh()
        self.left.show([f"Not reached: {each}." for each in done.not_reached])
        cleaned = counted(len(done.cleaned), "backup")
        self.message.say(
            f"Forgotten here and in {cleaned}. Exports and copies that you put "
            "elsewhere yourself are not known here."
        )

    def tag_page(self) -> str:
        """Gift tags of the chosen batch, as many as bottles are typed."""
        trail, journal = self._trail(), the_journal()
        count = parts.number_of(self.bottles.value)
        if not is_whole_number(count, 1, MOST_TAGS):
            needed = f"a whole number of tags, 1 to {MOST_TAGS}"
            raise BadNumber([Problem("bottles", quoted(self.bottles.value), needed)])
        blend = Blend.from_dict(journal.get(Version, trail.batch.version_id).document)
        maker, contact = kept_maker(journal)
        label = label_of(
            blend, LabelDetails(maker, trail.batch.lot, contact, mixed_on=trail.batch.made_on)
        )
        lasts = whole_line(lasting_of(film_of(blend.bottle, Conditions.read())), "The scent")
        return handouts.tag_page(label, lasts, count)

    def _trail(self) -> trace.Trail:
        if self.batch.value not in self.trails:
            fix = "Record one in notebook 06 or 07."
            raise BadNumber([Problem("batch", "none", "a batch of bottles", fix)])
        return self.trails[self.batch.value]

    def _words(self, row: HandoverRow, trail: trace.Trail) -> str:
        who = parts.shorten(handing.name_of(self.people, row.person), 30)
        return f"{who} · {row.bottles} × {parts.shorten(trail.name, 24)}, lot {trail.batch.lot}"


class Reactions:
    """The form for a reaction that somebody reported; closed until it is needed."""

    def __init__(self, panel: HandedOutPanel) -> None:
        self.panel, guard = panel, panel.message.guard
        self.bottle = parts.choice("Bottle of", [])
        self.what = widgets.Textarea(
            placeholder="what happened, in their words",
            continuous_update=False,
            layout=widgets.Layout(width="100%"),
            tooltip="What",
        )
        self.noticed, self.heard = (
            parts.text_box(label, f"{date.today()}", _NARROW)
            for label in ("Noticed on", "You heard on")
        )
        self.serious = parts.choice("Serious", ["not known", "yes", "no"], _NARROW)
        self.region = parts.choice("Sold in", [(Market(key).place, key) for key in regions()])
        self.duties = widgets.HTML()
        self.form = PrintButton("Print the form", self.page)
        self.view = parts.fold(
            "A reaction was reported",
            self.bottle,
            self.what,
            self.noticed,
            self.heard,
            self.serious,
            self.region,
            parts.row(parts.button("Record reaction", guard(self.note)), self.form),
            self.duties,
        )
        for control in (self.bottle, self.heard, self.region):
            control.observe(guard(self.show), "value")

    def typed(self) -> dict[str, str]:
        """The form as it is filled in."""
        return {
            "what": self.what.value,
            "serious": self.serious.value,
            "noticed_on": self.noticed.value,
            "heard_on": self.heard.value,
            "handover": self.bottle.value or "",
            "region": self.region.value,
        }

    def duty(self) -> tuple[ReactionDuty, ...]:
        """Duties of the region, with the last day."""
        day = day_of(self.heard.value.strip())
        if day is None:
            problem = Problem("heard on", quoted(self.heard.value), "a date, YYYY-MM-DD")
            raise BadNumber([problem])
        return reaction_duties(self.region.value, day)

    def show(self) -> None:
        """Show the duties, and what the person reported before."""
        person = self._person()
        reported = list(person.document["reactions"].values()) if person else []
        self.duties.value = handouts.duty_list(self.duty(), reported)

    def note(self) -> None:
        """Record what was reported with the person who got the bottle."""
        person = self._person()
        if person is None:
            raise BadNumber([Problem("bottle", "nobody on record", "a handover to somebody")])
        handing.note_reaction(the_journal(), person, self.typed())
        self.what.value = ""
        self.panel.refresh()
        self.panel.message.say("Recorded. Print the form, and report it where it is serious.")

    def page(self) -> str:
        """The form as a page: the reaction typed, else the newest one on record."""
        person, typed = self._person(), self.typed()
        known = list(person.document["reactions"].values()) if person else []
        if not typed["what"].strip() and known:
            typed = known[-1]
        about = person.document if person else dict.fromkeys(FIELDS, "")
        return handouts.reaction_page(typed, about, self._found()[0], self.duty())

    def _found(self) -> tuple[trace.Trail | None, str]:
        """The batch of the bottle chosen, and who got it."""
        for trail in self.panel.trails.values():
            for row in trail.handed:
                if row.id == self.bottle.value:
                    return trail, row.person
        return None, ""

    def _person(self) -> Person | None:
        person = self.panel.people.get(self._found()[1])
        return None if person is None or person.forgotten else person


def _named(trail: trace.Trail) -> str:
    return f"{parts.shorten(trail.name or 'Untitled blend', 30)} · lot {trail.batch.lot}"


_FORGET = (
    "Deletes name, contact, note and reports here and in every backup in reach. The lot, the "
    "count and the day stay. Print reports first: a law may ask you to keep them. A name typed "
    "elsewhere, such as in a note of a blend, stays there."
)
