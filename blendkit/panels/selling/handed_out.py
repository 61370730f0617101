"""Who got which bottle: handovers, gift tags, reactions, recalls, and forgetting somebody."""

from collections.abc import Callable
from datetime import date
from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend
from blendkit.blend.market import Market, regions
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import counted, is_whole_number, read_day
from blendkit.journal.people_table import FIELDS, Person
from blendkit.journal.records import BatchBottles, BatchMaterial, BatchRow, HandoverRow, Version
from blendkit.keeping import handing
from blendkit.keeping.details import kept_maker
from blendkit.keeping.open_store import the_journal
from blendkit.panels.kit import parts
from blendkit.panels.kit.print_button import PrintButton
from blendkit.panels.kit.section import Section
from blendkit.panels.kit.watch import Watch
from blendkit.selling import trace
from blendkit.selling.reactions import reaction_duties
from blendkit.showing.kit.rendering import render
from blendkit.showing.selling import handouts

MOST_LISTED, MOST_TAGS = 300, 60
_NARROW = "230px"
_NEW = ("somebody new", "")


class HandedOutPanel(parts.Panel):
    """Handovers, and the trail of every lot both ways."""

    def __init__(self) -> None:
        self.section = Section()
        self.message = self.section.message
        guard = self.message.guard
        self.trails: dict[str, trace.Trail] = {}
        self.people: dict[str, Person] = {}
        self.handed: dict[str, tuple[trace.Trail, HandoverRow]] = {}
        self.trace, self.batch, self.person, self.entry, self.forgotten = (
            parts.choice(label, []) for label in ("Trace", "Batch", "To", "Handover", "Forget")
        )
        self.picture, self.left = widgets.HTML(), parts.Findings("")
        self.way = parts.choice("As", ["gift", "sale", "tester"], _NARROW)
        self.bottles = parts.text_box("Bottles", "1", _NARROW)
        self.day = parts.text_box("Handed over on", "", _NARROW, placeholder="today")
        self.about = {key: parts.text_box(key.capitalize()) for key in FIELDS}
        self.is_sure = parts.tick("the name, contact, note and reports are deleted for good")
        self.reaction = Reactions(self)
        record = parts.button("Record handover", guard(self.hand_out))
        undo = parts.button("Undo this handover", guard(self.undo))
        forget = parts.button("Forget this person", guard(self.forget))
        form = parts.column(
            parts.heading("Hand out bottles"), self.batch, self.way, self.bottles, self.day,
            self.person, *self.about.values(),
            parts.row(record, self.printer("Print gift tags", self.tag_page)),
            self.reaction.view,
            parts.fold("Undo a handover", self.entry, undo),
            parts.fold("Forget somebody", parts.hint(_FORGET), self.forgotten, self.is_sure,
                       forget, self.left.view),
        )  # fmt: skip
        form.layout.max_width = "440px"
        recall = parts.row(
            self.printer("Print recall list", self.recall_page),
            self.printer("Print without names", lambda: self.recall_page(names=False)),
        )
        found = parts.results(self.trace, self.picture, recall)
        found.add_class("bk-seen-first")
        self.watch = Watch()
        kinds = (HandoverRow, BatchRow, BatchBottles, BatchMaterial)
        self.watch.follow(guard(self.refresh), *kinds)
        self.watch.on("written", guard(self.follow_people))
        self.trace.observe(guard(self.show), "value")
        self.person.observe(guard(self.ask_about), "value")
        self.view = parts.panel_frame(self.message.view, parts.columns(form, found), self.watch)
        guard(self.refresh)()
        if self.batch.value:
            self.trace.value = ("batch", self.batch.value, "")

    def printer(self, label: str, make: Callable[[], str]) -> PrintButton:
        """A button for a page, or for the reason why there is none."""
        return PrintButton(label, lambda: self.section.printed(make))

    def refresh(self) -> None:
        """Offer and show what is on record now."""
        journal = the_journal()
        found = trace.trails(journal)
        self.trails = {trail.batch.id: trail for trail in found}
        self.people = handing.people_on_record(journal)
        batches = [(_named(trail), trail.batch.id) for trail in found[:MOST_LISTED]]
        people = sorted((parts.shorten(handing.name_of(self.people, id)), id)
                        for id, each in self.people.items() if not each.forgotten)  # fmt: skip
        del people[MOST_LISTED:]
        self.handed = {row.id: (trail, row) for trail in found for row in trail.handed}
        handed = [(self._words(row, trail), id) for id, (trail, row) in self.handed.items()]
        lots = [(f"lot {x.lot} of {x.name}", ("lot", *x[:2])) for x in trace.lots(found)]
        for chooser, options in (
            (self.batch, batches), (self.person, [_NEW, *people]), (self.forgotten, people),
            (self.entry, handed[:MOST_LISTED]),
            (self.reaction.boxes["handover"], handed[:MOST_LISTED]),
            (self.trace, [
                *lots, *((name, ("batch", id, "")) for name, id in batches),
                *((f"bottles of {name}", ("person", id, "")) for name, id in people),
            ]),
        ):  # fmt: skip
            parts.set_options(chooser, options)
        self.show()
        self.ask_about()
        self.reaction.show()

    def follow_people(self) -> None:
        """Show no name that was forgotten on another page."""
        if handing.people_on_record(the_journal()) != self.people:
            self.refresh()

    def traced(self) -> trace.Recall:
        """What holds the lot chosen; or the batch, or the batches of the person chosen."""
        kind, id, lot = self.trace.value or ("", "", "")
        if kind == "lot":
            return trace.recall(self.trails.values(), the_journal(), id, lot)
        return trace.Recall(tuple(
            trail for trail in self.trails.values()
            if id in (trail.batch.id, *(row.person for row in trail.handed))
        ))  # fmt: skip

    def show(self) -> None:
        """Draw the trail of what is chosen."""
        title, found = self.trace.label or "Nothing on record yet", self.traced()
        is_lot = (self.trace.value or ("",))[0] == "lot"
        self.picture.value = handouts.picture(title, found, self.people, is_lot=is_lot)

    def recall_page(self, *, names: bool = True) -> str:
        """The list of the trail chosen, as a page."""
        is_person = (self.trace.value or ("",))[0] == "person"
        title = handing.UNNAMED if is_person and not names else self.trace.label or ""
        return handouts.recall_page(title, self.traced(), self.people, names=names)

    def ask_about(self) -> None:
        """Show the boxes about a person only for somebody new."""
        for box in self.about.values():
            box.layout.display = "none" if self.person.value else None

    def hand_out(self) -> None:
        """Record a handover."""
        trail, bottles = self._trail(), parts.number_of(self.bottles.value)
        person: Any = self.person.value or {key: box.value for key, box in self.about.items()}
        journal, day = the_journal(), self.day.value
        row = handing.hand_out(journal, trail, self.way.value, bottles, day, person)
        for box in self.about.values():
            box.value = ""
        self.refresh()
        self.trace.value = ("batch", row.batch_id, "")
        left = counted(self.trails[row.batch_id].here, "bottle")
        lot = trail.batch.lot
        self.message.say(f"Recorded: {row.way}, {row.bottles} of lot {lot}. {left} still here.")

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
        self.message.say(
            f"Forgotten here and in {counted(len(done.cleaned), 'backup')}. Exports and copies "
            "that you put elsewhere yourself are not known here."
        )

    def tag_page(self) -> str:
        """Gift tags of the chosen batch, as many as bottles are typed."""
        batch, journal = self._trail().batch, the_journal()
        count = parts.number_of(self.bottles.value)
        if not is_whole_number(count, 1, MOST_TAGS):
            needed = f"a whole number of tags, 1 to {MOST_TAGS}"
            raise BadNumber([Problem("bottles", quoted(self.bottles.value), needed)])
        blend = Blend.from_dict(journal.get(Version, batch.version_id).document)
        return handouts.tag_page(blend, batch, kept_maker(journal), count)

    def _trail(self) -> trace.Trail:
        if self.batch.value not in self.trails:
            fix = "Record one in notebook 06 or 07."
            raise BadNumber([Problem("batch", "none", "a batch of bottles", fix)])
        return self.trails[self.batch.value]

    def _words(self, row: HandoverRow, trail: trace.Trail) -> str:
        who = parts.shorten(handing.name_of(self.people, row.person), 30)
        return f"{who} · {row.bottles} × {_named(trail)}"


class Reactions:
    """The form for a reaction that somebody reported; closed until it is needed."""

    def __init__(self, panel: HandedOutPanel) -> None:
        self.panel, guard = panel, panel.message.guard
        what = widgets.Textarea(
            placeholder="what happened, in their words", tooltip="What happened",
            continuous_update=False, layout=widgets.Layout(width="calc(100% - 4px)"),
        )  # fmt: skip
        places, today = [(Market(key).place, key) for key in regions()], f"{date.today()}"
        self.boxes: dict[str, Any] = {
            "handover": parts.choice("Bottle of", []),
            "what": what,
            "noticed_on": parts.text_box("Noticed on", today, _NARROW),
            "heard_on": parts.text_box("You heard on", today, _NARROW),
            "serious": parts.choice("Serious", ["not known", "yes", "no"], _NARROW),
            "region": parts.choice("Sold in", places),
        }
        self.duties = widgets.HTML()
        self.due = Section(self.duties)
        record = parts.button("Record reaction", guard(self.note))
        buttons = parts.row(record, panel.printer("Print the form", self.page))
        boxes = self.boxes.values()
        self.view = parts.fold("A reaction was reported", *boxes, buttons, self.due.view)
        decide = (self.boxes[key] for key in ("handover", "heard_on", "region"))
        parts.observe(guard(self.show), *decide)

    def show(self) -> None:
        """Show the duties, and what the person reported before."""
        self.due.attempt(self._show)

    def _show(self) -> None:
        known = {"duties": self._duties(), "reported": self._reported()}
        self.duties.value = render("reaction_duties", **known)

    def note(self) -> None:
        """Record what was reported with the person who got the bottle."""
        person = self._found()[1]
        if person is None:
            raise BadNumber([Problem("bottle", "nobody on record", "a handover to somebody")])
        handing.note_reaction(the_journal(), person.id, self._typed())
        self.boxes["what"].value = ""
        self.panel.refresh()
        self.panel.message.say("Recorded. Print the form, and report it where it is serious.")

    def page(self) -> str:
        """The form as a page: the reaction typed, else the newest one on record."""
        trail, person = self._found()
        typed, about = self._typed(), person.document if person else dict.fromkeys(FIELDS, "")
        known = [] if typed["what"].strip() else self._reported()
        filled: dict[str, Any] = {"reaction": known[-1] if known else typed, "person": about}
        filled |= {"trail": trail, "duties": self._duties()}
        sources = handouts.named_sources(trail.sources if trail else ())
        return render("reaction", sources=sources, **filled)

    def _typed(self) -> dict[str, str]:
        return {key: box.value or "" for key, box in self.boxes.items()}

    def _duties(self) -> list[dict[str, Any]]:
        day = read_day(self.boxes["heard_on"].value, "heard on")
        return reaction_duties(self.boxes["region"].value, day)

    def _reported(self) -> list[dict[str, str]]:
        person = self._found()[1]
        return list(person.document["reactions"].values()) if person else []

    def _found(self) -> tuple[trace.Trail | None, Person | None]:
        """The batch of the bottle chosen, and who got it; nobody once forgotten."""
        handed = self.panel.handed.get(self.boxes["handover"].value or "")
        if handed is None:
            return None, None
        trail, row = handed
        person = self.panel.people.get(row.person)
        return trail, None if person is None or person.forgotten else person


def _named(trail: trace.Trail) -> str:
    return f"{parts.shorten(trail.name or 'Untitled blend', 30)} · lot {trail.batch.lot}"


_FORGET = (
    "Deletes name, contact, note and reports here and in every backup in reach. The lot, the "
    "count and the day stay. Print reports first: a law may ask you to keep them. A name typed "
    "elsewhere, such as in a note of a blend, stays there."
)
