"""Panel 06: the bench — tap each addition, keep versions, and lose nothing."""

from collections.abc import Callable
from functools import cache
from html import escape
from typing import Any

import ipywidgets as widgets

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fading import hours_until
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.wear import film_of
from blendkit.foundation.data import example_document
from blendkit.foundation.units import counted
from blendkit.journal import records
from blendkit.journal.backups import journal_path
from blendkit.journal.errors import CannotJournal
from blendkit.keeping.bench_sessions import BenchRecord, open_sessions
from blendkit.keeping.clock import learnt_clock
from blendkit.keeping.hand import Hand, in_hand, kept_as, open_version
from blendkit.keeping.open_store import read_or, the_journal
from blendkit.making.bench_events import AccidentalDrops, Drops, Event, Measured, MixedIn, Undo
from blendkit.making.bench_words import describe_bottle, event_in_words
from blendkit.making.limit_preview import check_limits, preview_drops, preview_limits
from blendkit.making.mixture import Mixture, is_oil
from blendkit.making.recipe import recipe_of
from blendkit.panels.bench.ageing_page import AgeingPage
from blendkit.panels.bench.finish import Finish, Pouring
from blendkit.panels.bench.journal_page import JournalPage
from blendkit.panels.bench.other_events import OtherEvents
from blendkit.panels.bench.start import BenchStart, on_the_bench
from blendkit.panels.bench.tray import BenchTray, big_button
from blendkit.panels.bench.versions_page import VersionsPage
from blendkit.panels.kit import parts
from blendkit.panels.kit.chart_view import ChartView
from blendkit.panels.kit.deferred import Deferred
from blendkit.panels.kit.links import notebook_links
from blendkit.panels.kit.market_choice import MarketChoice
from blendkit.panels.kit.style import style_sheet
from blendkit.panels.kit.watch import Watch
from blendkit.showing.bench.fragments import bench_lines, bottle_list
from blendkit.showing.bottle.pictures import bottle_picture
from blendkit.showing.day.rows import fade_rows
from blendkit.showing.skin.fragments import NO_NAME, no_verdict, verdict_line
from blendkit.skin.verdict import judge

_STYLE = f"<style>\n{style_sheet('panels/bench/style.css')}</style>"
HOURS = 8.0
DRAWS = 128  # a small picture; more would keep the next tap waiting
APPLIED_AT = 9.0
_CURE = "Add carrier, or keep it and open the skin check for the nearest blend."
_LISTED = (
    records.BlendRow, records.Version, records.BatchRow, records.Session, records.Impression,
    records.Like, records.LotRow, records.OwnMaterialRow, records.DropperRow,
)  # fmt: skip
_ADDITIONS = (Drops, AccidentalDrops, Measured, MixedIn)


@cache
def _warm_up() -> None:
    """Load the libraries of the first fade before the first tap."""
    blend = Blend(example_document())
    forecast(film_of(blend.bottle, Conditions()), hours_until(HOURS), DRAWS)


class MakeAndKeepPanel(parts.Panel):
    """The bench, and the journal behind it.

    Parameters
    ----------
    blend : Blend, document, or path, optional
        Where left out, the session left open is resumed; or else a bottle of the blend in hand
        is planned, which follows it until the first tap.

    Attributes
    ----------
    record : BenchRecord
        The session: its events and the mixture.
    warning : str
        What keeps the bottle off skin; "" for nothing.
    """

    record: BenchRecord
    warning = ""

    def __init__(self, blend: BlendLike | None = None) -> None:
        self.message = parts.Message()
        guard = self.message.guard
        self._afterwards = Deferred()
        self._unconfirmed: Event | None = None
        self.start = BenchStart(self.begin, guard)
        self.tray = BenchTray(self.add, guard, self.update)
        self.pouring = Pouring(self.add, guard, lambda: self.record.bench.mixture)
        self.other_events = OtherEvents(self.add, guard)
        self.finish = Finish()
        self.versions, self.ageing = VersionsPage(guard), AgeingPage(guard, self.refresh_pages)
        self.journal = JournalPage(self.message, self.refresh_pages)
        self.undo = big_button("Nothing to take back", guard(self.take_back))
        self.kept_in = widgets.HTML()
        self.again = parts.button("Try again", guard(self.write_again))
        self.picture = widgets.HTML()
        self.contents, self.verdict = parts.Findings(""), widgets.HTML()
        self.list, self.log = widgets.HTML(), widgets.HTML()
        self.chart = ChartView("day", "small_fade_chart", "Fade of each note, bottle filled up")
        self.market = MarketChoice(guard(self._follow_market))
        self.watch = Watch()
        self.watch.on("written", guard(self.follow_hand))
        self.watch.follow(guard(self.refresh_pages), *_LISTED)
        self.view = self._lay_out(guard)
        guard(self.refresh_pages)()
        self._begin_with(blend)
        self._afterwards.ask(guard(_warm_up))

    def _lay_out(self, guard: Callable[..., Any]) -> widgets.Widget:
        keep = big_button("Keep as a new version", guard(self.keep))
        events = "Other events: accidental drops, spill, scale reading, mixing, remark"
        pages = {
            events: self.other_events.view,
            "Versions side by side": self.versions.view,
            "Ageing bottles: sniff days, impressions, photos": self.ageing.view,
            "Journal: place, export, import": self.journal.view,
            "Region and use": parts.column(*self.market.controls),
        }
        tray = parts.column(
            self.tray.view,
            self.pouring.view,
            parts.column(self.finish.view, keep),
            parts.heading("Log, newest first"),
            parts.column(self.log).add_class("bk-scroll"),
        ).add_class("bk-tray")
        shown = parts.results(self.picture, self.contents.view, self.list, self.chart)
        undo = parts.column(self.undo, self.kept_in, self.again)
        return parts.panel_frame(
            widgets.HTML(_STYLE),
            notebook_links("06_make_and_keep"),
            self.start.view,
            self.verdict,
            widgets.Box([undo, self.message.view]).add_class("bk-state"),
            parts.columns(tray, shown),
            widgets.Accordion(list(pages.values()), titles=list(pages)),
            self.watch,
        )

    def _begin_with(self, blend: BlendLike | None) -> None:
        self._plan = in_hand() if blend is None else Hand({"blend": as_blend(blend).to_dict()})
        self._follows = blend is None
        if self._follows:
            try:
                left_open = next(open_sessions(the_journal()), None)
                if left_open is not None:
                    self.begin(BenchRecord.resumed(left_open))
                    self.message.say("Resumed your last session.")
                    return
            except CannotJournal as error:
                self.message.refuse(error)
        self._begin_with_hand()

    def _begin_with_hand(self) -> None:
        plan = self._plan
        self.begin(BenchRecord(on_the_bench(plan.document["blend"]), kept_as(plan)))
        if not self.message.is_refusal:
            self.message.say(plan.said)

    def follow_hand(self) -> None:
        """Plan what is in hand now, as long as nothing was tapped."""
        if not self._follows or self.record.session or self.record.bench.last:
            return
        before, self._plan = self._plan, in_hand()
        if self._plan.document["blend"] != before.document["blend"]:
            self._begin_with_hand()

    def begin(self, record: BenchRecord) -> None:
        """Show a session on the bench."""
        self.record, self._unconfirmed = record, None
        self.tray.begin()
        self.finish.name.value = record.bench.plan.fields.name
        self.market.show(record.bench.plan.fields.market)
        self.update()
        self._afterwards.finish()

    def add(self, event: Event) -> bool:
        """Add an event; one that would pass a limit needs a second tap.

        Returns
        -------
        bool
            True where it is recorded; False where it was only asked about.

        Raises
        ------
        BlendkitError
            The event is impossible; nothing was changed.
        """
        mixture = self.record.bench.mixture
        if isinstance(event, _ADDITIONS) and event != self._unconfirmed:
            oils = filter(is_oil, self.tray.rows)  # their rules are looked up together
            warnings = preview_limits(mixture, event, self.market.market, tuple(oils))
            if warnings:
                self._unconfirmed = event
                text = f"Not recorded yet: {event_in_words(event)}. {' '.join(warnings)}"
                self.message.say(f"{text} Tap again to record it all the same.")
                return False
        self._unconfirmed = None
        self.record.add(event)
        self.message.say(self.record.bench.lines[-1].message)
        self.update()
        return True

    def take_back(self) -> None:
        """Undo the newest event that counts."""
        self.record.catch_up()
        last = self.record.bench.last
        if last is not None:
            self.add(Undo(last.number))

    def write_again(self) -> None:
        """Try again to write the waiting events."""
        self.record.write()
        self.refresh_pages()
        self.update()

    def keep(self) -> None:
        """Keep the bottle as a version with a lot number."""
        kept, batch, recipe = self.finish.keep(self.record, self.market.market)
        if self._follows:
            open_version(kept)
        self.refresh_pages()
        self.update()
        rounded = " ".join(recipe.sentences)
        self.message.say(
            f"Kept as {kept.label}, lot {batch.lot}. {rounded} {self.warning} "
            "Its first sniff is due tomorrow."
        )

    def refresh_pages(self) -> None:
        """Update every page that shows the journal."""
        self.journal.refresh()
        self.tray.refresh()
        try:
            for page in (self.start, self.versions, self.ageing):
                page.refresh()
            self.other_events.list_kept()
        except CannotJournal as error:
            self.message.refuse(error)

    def update(self) -> None:
        """Show the mixture, its skin check and its fade."""
        bench = self.record.bench
        mixture = bench.mixture
        self.picture.value = bottle_picture(mixture.filling())
        oils = set(filter(is_oil, self.tray.list_materials(mixture)))
        self.tray.show(mixture, preview_drops(mixture, oils, self.market.market))
        self.contents.show(describe_bottle(mixture))
        self.list.value = bottle_list(mixture)
        last = bench.last
        undo = f"Take back: {event_in_words(last.event)}" if last else "Nothing to take back"
        self.undo.description, self.undo.disabled = parts.shorten(undo), last is None
        self._show_journal()
        self._afterwards.ask(self.message.guard(lambda: self._show_rest(mixture)))

    def _show_rest(self, mixture: Mixture) -> None:
        """Update what need not be ready at the next tap."""
        self.log.value = bench_lines(self.record.bench, [one.at for one in self.record.timed])
        self._judge(mixture)
        self.pouring.offer(mixture)
        self.other_events.offer(list(self.tray.rows))
        self.finish.offer(self.record)
        self.chart.rows = self._fade(mixture)

    def _follow_market(self) -> None:
        self.message.say("")
        self.update()

    def _judge(self, mixture: Mixture) -> None:
        """Show the verdict on the bottle as it is, filled up."""
        name, market = self.finish.name.value, self.market.market
        if not mixture.oils_kg:
            self.warning, self.verdict.value = "", no_verdict(name)
            return
        blend = Blend(recipe_of(self.record.bench, name).document).with_(market=market)
        judged = judge(blend, check_limits(mixture, market), in_drops=False)
        self.warning = judged.warning
        cure = _CURE if judged.warning else ""
        self.verdict.value = verdict_line(blend, judged, cure, name=blend.name or NO_NAME)

    def _fade(self, mixture: Mixture) -> list[dict[str, Any]]:
        """Rows of the chart: the bottle filled up, at the first settings of notebook 04."""
        if not mixture.oils_kg:
            return []
        clock = read_or(lambda _: learnt_clock("skin"), None)
        film = film_of(mixture.fill_up().filling(), Conditions())
        fade = forecast(film, hours_until(HOURS), DRAWS, clock=clock)
        return list(fade_rows(fade, APPLIED_AT))

    def _show_journal(self) -> None:
        record = self.record
        if record.trouble:
            waiting = f"<b>{counted(record.waiting, 'event')} not in the journal yet.</b>"
            text = f"{waiting} They are kept on this page. {escape(record.trouble)}"
            self.kept_in.value = f'<div class="bk-message bk-refusal">{text}</div>'
        elif record.session is None:
            self.kept_in.value = '<p class="bk-faint">The first tap begins the log.</p>'
        else:
            words = f"{counted(len(record.timed), 'line')} in the journal"
            path = escape(str(journal_path()))
            self.kept_in.value = f'<p class="bk-faint" title="{path}">{words}</p>'
        self.again.layout.display = None if record.trouble else "none"
