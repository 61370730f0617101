"""The blend in hand: one document, one line of steps, whoever writes and whatever happens."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

import pytest

import blendkit as bk
from blendkit import Blend, example_document
from blendkit.foundation.errors import Refused
from blendkit.journal.backups import journal_path
from blendkit.journal.errors import CannotJournal
from blendkit.journal.exchange import export_journal
from blendkit.journal.hand_table import MOST_STEPS
from blendkit.journal.merge import import_journal
from blendkit.journal.records import KINDS, Version
from blendkit.journal.restore import recover_journal
from blendkit.journal.store import open_journal
from blendkit.keeping import hand
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.keeping.versions import keep_version, kept_versions
from blendkit.materials import catalogue
from tests.tools.journal_file import ask, value

pytestmark = pytest.mark.usefixtures("own_folder")
EXAMPLE = example_document()


def sound(document):
    try:
        Blend(document["blend"])
    except Refused:
        return False
    return True


def set_(seen=None, press="", **keys):
    """Change keys of the blend, as somebody who saw this."""
    seen = seen or hand.in_hand().document
    wanted = {**seen, "blend": {**seen["blend"], **keys}}
    return hand.record(seen, wanted, sound, press=press)


def strength():
    return hand.in_hand().document["blend"]["strength"]


def test_it_begins_with_the_example_then_with_what_was_kept_and_nothing_is_written():
    assert hand.in_hand().document == {"blend": EXAMPLE}
    kept, _ = keep_version(the_journal(), Blend(EXAMPLE | {"name": "Kept (invented)"}))
    now = hand.in_hand()
    assert (now.document["blend"]["name"], now.version) == ("Kept (invented)", kept.version.id)
    assert (now.turn, now.undoes, now.redoes) == (0, "", "")
    assert ask(journal_path(), "SELECT * FROM hand") == []


def test_two_hundred_steps_are_undone_and_done_again_after_a_restart():
    for step in range(200):
        set_(strength=f"{10 + step / 10:g} %")
    let_go()
    said = [hand.undo()[1] for _ in range(200)]
    assert said[0] == "Undid: strength 29.9 % → 29.8 %."
    assert said[-1] == "Undid: strength 10 % → 20 %."
    assert hand.in_hand().document == {"blend": EXAMPLE}
    assert hand.undo()[1] == "Nothing to undo."
    let_go()
    for _ in range(200):
        hand.redo()
    assert strength() == "29.9 %"
    assert hand.redo()[1] == "Nothing to redo."


def test_the_line_is_cut_by_a_change_and_never_grows_beyond_its_end():
    for step in range(MOST_STEPS + 20):
        set_(strength=f"{10 + step / 100:g} %")
    assert value(journal_path(), "SELECT count(*) FROM hand_steps") == MOST_STEPS
    hand.undo()
    set_(bottle="30 mL")
    assert hand.redo()[1] == "Nothing to redo."
    assert hand.in_hand().undoes == "bottle 10 mL → 30 mL"


def test_all_that_one_press_changes_is_one_step():
    for percent in (21, 22, 23):
        set_(press="p1", strength=f"{percent} %")
    set_(press="p2", strength="24 %")
    assert hand.undo()[1] == "Undid: strength 24 % → 23 %."
    assert hand.undo()[1] == "Undid: strength 23 % → 20 %."
    set_(press="p3", strength="30 %")
    set_(press="p3", strength="20 %")  # dragged back to where it was
    assert hand.in_hand().undoes == ""
    assert ask(journal_path(), "SELECT * FROM hand_steps") == []


def test_a_change_on_an_older_state_goes_to_its_own_keys():
    seen = hand.in_hand().document
    set_(seen, strength="25 %")
    now = set_(seen, bottle="30 mL")  # this one still saw 20 %
    blend = now.document["blend"]
    assert (blend["strength"], blend["bottle"]) == ("25 %", "30 mL")
    hand.undo()
    assert strength() == "25 %"


def test_nothing_bad_is_written_and_what_is_sound_beside_it_is():
    now = set_(strength="110 %", bottle="30 mL")
    assert now.document["blend"] == EXAMPLE | {"bottle": "30 mL"}
    before = now.turn
    assert set_(strength="0 %").turn == before


def test_what_does_not_go_together_is_taken_as_the_last_one_saw_it():
    seen = hand.in_hand().document
    oils = EXAMPLE["oils"]
    alone = [oil for oil in oils if oil["id"] in ("lavender", "geranium")]
    middle = {"middle": 1}
    set_(seen, oils=alone, note_parts=middle)
    rest = [oil for oil in oils if oil not in alone]
    mine = {"oils": rest, "note_parts": {"top": 2, "base": 2}}
    now = set_(seen, **mine)
    assert sound(now.document)


@pytest.mark.parametrize(
    "damage",
    ["UPDATE hand SET document = '{'", "UPDATE hand SET document = '[]'",
     """UPDATE hand SET document = replace(document, '"lavender"', '"lavendar"')""",
     "UPDATE hand SET document = '{}'"],
)  # fmt: skip
def test_a_hand_that_cannot_be_used_is_said_and_passed_by(damage):
    set_(strength="25 %")
    with the_journal().transaction() as store:
        store.execute(damage)
    now = hand.in_hand()
    assert now.document == {"blend": EXAMPLE}
    assert "The blend in hand cannot be" in now.said
    assert "invented example" in now.said
    assert set_(now.document, strength="30 %").said == ""
    assert strength() == "30 %"


def test_steps_that_cannot_be_read_stop_the_line_and_nothing_else():
    set_(strength="25 %")
    with the_journal().transaction() as store:
        store.execute("UPDATE hand_steps SET changes = '[[1]]'")
    assert hand.in_hand().undoes == "a change"
    assert hand.undo()[1] == "Nothing to undo."
    assert set_(strength="30 %").said == ""


def test_versions_are_a_tree_that_can_be_gone_back_to():
    journal = the_journal()
    first, _ = keep_version(journal, Blend(EXAMPLE), "first")
    hand.name_version(first.version)
    set_(strength="25 %")
    now = hand.in_hand()
    second, _ = keep_version(journal, Blend(now.document["blend"]), "", now.version)
    hand.name_version(second.version)
    hand.open_version(first)
    assert hand.in_hand().document == {"blend": EXAMPLE, "version": first.version.id}
    now = set_(strength="30 %")
    third, _ = keep_version(journal, Blend(now.document["blend"]), "branch", now.version)
    assert third.version.parent_id == first.version.id
    assert "from version 1 · branch" in kept_versions(journal)[0].listed
    hand.undo()
    assert hand.undo()[1].startswith("Undid: opened Garden gate (invented example) · version 1")
    assert hand.in_hand().version == second.version.id


def test_a_mixture_is_kept_as_a_version_and_undone_as_it_was_chosen():
    rose = bk.keep_mixture("Rose (invented)", {"rose-otto": 3, "jojoba": 97})
    oils = [*EXAMPLE["oils"], {"id": rose.id, "note": "middle", "parts": 1}]
    now = set_(oils=oils)
    kept, _ = keep_version(the_journal(), Blend(now.document["blend"]))
    ids = {oil["id"] for oil in kept.version.document["oils"]}
    assert catalogue.pinned(rose.id) in ids
    assert rose.id not in ids
    now = hand.name_version(kept.version)
    assert now.version == kept.version.id
    assert hand.is_as_kept(now.document["blend"], kept.version)
    bk.keep_mixture("Rose (invented)", {"rose-otto": 5, "jojoba": 95})
    assert not hand.is_as_kept(now.document["blend"], kept.version)
    assert hand.undo()[0].document["blend"] == EXAMPLE
    assert hand.redo()[0].document["blend"]["oils"] == oils


def test_undo_touches_nothing_but_the_hand():
    keep_version(the_journal(), Blend(EXAMPLE))
    set_(strength="25 %")
    before = the_journal().written_of(*KINDS)
    hand.undo()
    hand.redo()
    assert the_journal().written_of(*KINDS) == before


# --- the store ------------------------------------------------------------------------------

WORKER = """
import itertools, sys
from blendkit.blend.blend import Blend
from blendkit.keeping import hand
key, first = sys.argv[1], hand.in_hand().document
for number in itertools.count(1):
    seen = hand.in_hand().document
    wanted = {**seen, "blend": {**seen["blend"], key: f"{key} {number}" if key == "name"
              else f"{10 + number % 200 / 10:g} %"}}
    hand.record(seen, wanted, lambda d: bool(Blend(d["blend"])))
    print(number, flush=True)
    if number == int(sys.argv[2]):
        break
"""


def worker(key, count):
    command = [sys.executable, "-c", WORKER, key, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_two_processes_write_at_once_and_lose_nothing():
    set_(bottle="30 mL")
    workers = [worker("name", 40), worker("strength", 40)]
    for each in workers:
        each.communicate(timeout=120)
        assert each.returncode == 0
    blend = hand.in_hand().document["blend"]
    assert (blend["name"], blend["strength"], blend["bottle"]) == ("name 40", "14 %", "30 mL")
    assert value(journal_path(), "SELECT count(*) FROM hand_steps") == 81


def test_a_kill_in_the_middle_leaves_the_last_change_said_to_be_kept():
    with worker("strength", 100_000) as process:
        said = [process.stdout.readline() for _ in range(15)]
        time.sleep(0.01)
        process.send_signal(signal.SIGKILL)
        said += process.stdout.readlines()
    last = int(said[-1])
    now = hand.in_hand()
    assert now.said == ""
    assert strength() in {f"{10 + number % 200 / 10:g} %" for number in (last, last + 1)}
    while hand.undo()[1] != "Nothing to undo.":
        pass
    assert hand.in_hand().document == {"blend": EXAMPLE}


def test_a_move_carries_it_and_a_share_does_not_and_no_merge_replaces_it(tmp_path):
    set_(strength="25 %")
    journal = the_journal()
    move = export_journal(journal, tmp_path / "move.zip").path
    share = export_journal(journal, tmp_path / "share.zip", people=False).path
    with open_journal(tmp_path / "other") as other:
        import_journal(other, share)
        assert ask(other.path, "SELECT * FROM hand") == []
        import_journal(other, move)
        assert '"25 %"' in value(other.path, "SELECT document FROM hand")
    set_(strength="30 %")
    import_journal(journal, move)
    assert strength() == "30 %"


def test_a_recovery_brings_it_back():
    keep_version(the_journal(), Blend(EXAMPLE))
    set_(strength="25 %")
    path = journal_path()
    let_go()
    content = bytearray(path.read_bytes())
    mark = content.index(b"CREATE INDEX blends_turn")
    content[mark : mark + 6] = b"DAMAGE"
    path.write_bytes(content)
    with pytest.raises(CannotJournal):
        the_journal()
    recover_journal().close()
    assert the_journal().count(Version) == 1
    assert strength() == "25 %"
