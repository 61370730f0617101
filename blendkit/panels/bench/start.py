"""Start of a bench session: a kept blend, an open session, or an empty bottle."""

from collections.abc import Callable, Mapping
from typing import Any

from blendkit.blend.document import STRENGTH_BASES
from blendkit.journal.records import Session, Version
from blendkit.keeping.bench_sessions import BenchRecord, open_sessions
from blendkit.keeping.hand import own_drop_sizes
from blendkit.keeping.open_store import the_journal
from blendkit.panels.bench.tray import Guard
from blendkit.panels.bottle.kept_blends import version_options
from blendkit.panels.kit import parts

_MIX, _CONTINUE = "Mix a kept blend …", "Continue a session …"


def on_the_bench(document: Mapping[str, Any]) -> dict[str, Any]:
    """Add the maker's own drop sizes for further oils to a blend document."""
    sizes = document.get("drops_per_ml", 20)
    sizes = dict(sizes) if isinstance(sizes, Mapping) else {"default": sizes}
    own = own_drop_sizes(document, further=True)
    return {**document, "drops_per_ml": {**own, **sizes}}


class BenchStart:
    """Choosers above the bench.

    Parameters
    ----------
    begin : callable
        Takes the record of the session that is started or continued.
    guard : callable
        Wraps callbacks, as `Message.guard`.
    """

    def __init__(self, begin: Callable[[BenchRecord], None], guard: Guard) -> None:
        self._begin = begin
        self.kept = parts.choice("", [(_MIX, "")], tooltip="mix a kept blend")
        self.sessions = parts.choice("", [(_CONTINUE, "")], tooltip="continue a session")
        self.name = parts.text_box("Name", width="380px")
        self.bottle = parts.unit_box("Bottle", "mL", "10 mL", "240px")
        self.strength = parts.unit_box("Target strength", "%", "20 %", "240px")
        self.basis = parts.choice("Strength by", list(STRENGTH_BASES))
        self.drops_per_ml = parts.text_box("Drops in 1 mL", "20", "240px")
        self.carrier = parts.choice("Carrier", parts.carrier_options())
        self.carrier.value = "jojoba"
        boxes = (self.name, self.bottle, self.strength, self.basis, self.drops_per_ml)
        begin_it = parts.button("Start bottle", guard(self.begin_empty))
        more = parts.fold("Or start with an empty bottle", *boxes, self.carrier, begin_it)
        self.kept.observe(guard(self.begin_kept), "value")
        self.sessions.observe(guard(self.resume), "value")
        self.view = parts.column(parts.row(self.kept, self.sessions), more)

    def refresh(self) -> None:
        """List kept blends and open sessions; `CannotJournal` where they cannot be read."""
        journal = the_journal()
        sessions = [(_label(session), session.id) for session in open_sessions(journal)]
        self.kept.value = self.sessions.value = ""
        parts.set_options(self.kept, version_options(_MIX))
        parts.set_options(self.sessions, [(_CONTINUE, ""), *sessions])

    def begin_kept(self) -> None:
        """Start a bottle of the chosen version."""
        if self.kept.value:
            version = the_journal().get(Version, self.kept.value)
            self._begin(BenchRecord(on_the_bench(version.document), version))

    def resume(self) -> None:
        """Continue the chosen session."""
        if self.sessions.value:
            session = the_journal().get(Session, self.sessions.value)
            self._begin(BenchRecord.resumed(session))

    def begin_empty(self) -> None:
        """Start an empty bottle, as typed."""
        document = {
            "name": self.name.value,
            "bottle": self.bottle.quantity,
            "strength": self.strength.quantity,
            "strength_basis": self.basis.value,
            "drops_per_ml": parts.number_of(self.drops_per_ml.value),
            "note_parts": {},
            "oils": [],
            "carriers": [{"id": self.carrier.value, "parts": 1}],
        }
        self._begin(BenchRecord(on_the_bench(document)))


def _label(session: Session) -> str:
    started = session.started_at.astimezone()
    return f"{session.title or 'no name'} · started {started:%Y-%m-%d %H:%M}"
