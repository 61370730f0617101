"""A class with laptops: seats and their phrases, the closed folders, and what is handed in."""

from __future__ import annotations

import asyncio
import io
import json
import os
import shutil
import stat
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import Blend, example_document
from blendkit.foundation.data import example_class
from blendkit.foundation.errors import BadNumber
from blendkit.panels import first_bottle
from blendkit.skin.cautions import WEARERS
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.free_choice import card_of
from blendkit.teaching.hand_in import (
    LARGEST_BYTES,
    LONGEST_NAME,
    MOST_OF_ACCOUNT,
    CannotHandIn,
    drop_box,
    gather,
    hand_in,
    name_owners,
)
from blendkit.teaching.judging import judge
from blendkit.teaching.laptop import (
    at_seat,
    first_blend,
    for_laptops,
    seat_blend,
    seat_file,
)
from blendkit.teaching.plan import DISLIKE, HERE, SUN, seat_plans

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a class is served by Linux")
AS_ROOT = pytest.mark.skipif(
    getattr(os, "geteuid", lambda: 1)() != 0, reason="becomes other accounts: needs root"
)
MARKUP = "<img src=x onerror=alert(1)>"


@pytest.fixture
def blend():
    return Blend.from_dict(example_document())


def write(folder: Path, content: object, name: str = "a.json") -> Path:
    file = folder / name
    file.write_text(content if isinstance(content, str) else json.dumps(content))
    return file


def handed(document: object, seat: object = "Rosa") -> dict[str, object]:
    return {"seat": seat, "blend": document}


def as_account(number: int, action) -> str:
    """What an action comes to when another account does it: its result, or its error."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.setgroups([])
        os.setgid(number)
        os.setuid(number)
        try:
            answer = str(action())
        except BaseException as error:
            answer = type(error).__name__
        os.write(writing, answer.encode())
        os._exit(0)
    os.close(writing)
    os.waitpid(child, 0)
    with os.fdopen(reading) as answered:
        return answered.read()


class TestHandingIn:
    def test_a_blend_comes_back_as_it_was(self, tmp_path, blend, monkeypatch):
        monkeypatch.setenv("BLENDKIT_SEAT", "seat-03")
        hand_in(blend, tmp_path)
        (found,) = gather(tmp_path).seats
        assert (found.seat, found.problem) == ("seat-03", "")
        assert found.blend.to_dict() == example_document()

    def test_nothing_is_written_over_and_the_newest_counts(self, tmp_path, blend, monkeypatch):
        monkeypatch.setenv("BLENDKIT_SEAT", "seat-03")
        first = hand_in(blend, tmp_path)
        os.utime(first, (1_000_000, 1_000_000))
        weaker = Blend.from_dict(example_document() | {"strength": "12 %"})
        hand_in(weaker, tmp_path)
        assert len(list(tmp_path.iterdir())) == 2
        (found,) = gather(tmp_path).seats
        assert found.count == 2
        assert found.blend.strength_fraction == 0.12

    def test_a_folder_that_is_not_there_is_said(self, tmp_path, blend):
        with pytest.raises(CannotHandIn, match="needs the class's folder"):
            hand_in(blend, tmp_path / "gone")
        with pytest.raises(CannotHandIn, match="needs a folder"):
            gather(tmp_path / "gone")

    def test_it_is_offered_in_a_class_only(self, monkeypatch):
        monkeypatch.delenv("BLENDKIT_HAND_IN", raising=False)
        assert drop_box() is None
        monkeypatch.setenv("BLENDKIT_HAND_IN", "box")
        assert drop_box() == Path("box")


class TestGathering:
    """What lies in the folder was written by others."""

    @pytest.mark.parametrize(
        "content",
        [
            "", "{", "[]", "null", "7", '{"blend": {}}', '{"seat": "a", "blend": []}',
            "[" * 15_000, '{"seat": "a", "blend": ' + '{"a":' * 3000,
        ],
    )  # fmt: skip
    def test_what_holds_no_blend_is_said_and_the_rest_is_shown(self, tmp_path, blend, content):
        write(tmp_path, content)
        hand_in(blend, tmp_path)
        bad, good = sorted(gather(tmp_path).seats, key=lambda one: one.problem == "")
        assert "holds no blend" in bad.problem
        assert good.blend.to_dict() == example_document()

    def test_a_bad_blend_is_shown_in_words(self, tmp_path):
        document = example_document() | {"strength": "110 %", "bottle": "10"}
        write(tmp_path, handed(document))
        (found,) = gather(tmp_path).seats
        assert found.blend is None
        assert "110 %" in found.problem
        assert "bottle" in found.problem

    def test_a_file_too_large_is_not_read_whole(self, tmp_path):
        write(tmp_path, " " * (LARGEST_BYTES + 1))
        (found,) = gather(tmp_path).seats
        assert "above 16 kB" in found.problem

    def test_bytes_that_are_no_text_are_said(self, tmp_path):
        (tmp_path / "a.json").write_bytes(b"\xff\xfe\x00\xd8")
        (found,) = gather(tmp_path).seats
        assert "holds no blend" in found.problem

    def test_links_folders_and_pipes_are_passed_by(self, tmp_path, blend):
        kept = tmp_path / "kept"
        kept.mkdir()
        secret = hand_in(blend, kept)
        box = tmp_path / "box"
        box.mkdir()
        (box / "link.json").symlink_to(secret)
        (box / "folder.json").mkdir()
        os.mkfifo(box / "pipe.json")  # opening one for reading would wait for ever
        found = gather(box)
        assert found.seats == ()
        assert "3 things skipped" in found.remarks[0]

    def test_half_written_files_are_not_looked_at(self, tmp_path):
        write(tmp_path, "{", "b.part")
        assert gather(tmp_path).seats == ()

    def test_long_and_odd_names_are_cut_and_kept_as_text(self, tmp_path):
        write(tmp_path, handed(example_document(), MARKUP), "a.json")
        write(tmp_path, handed(example_document(), "x" * 500), "b.json")
        write(tmp_path, handed(example_document(), {"a": 1}), "c.json")
        write(tmp_path, handed(example_document(), "  "), "d.json")
        names = {found.seat for found in gather(tmp_path).seats}
        assert names == {MARKUP, "x" * LONGEST_NAME, "{'a': 1}", "file d"}

    def test_a_flood_of_files_is_cut_and_said(self, tmp_path):
        for number in range(MOST_OF_ACCOUNT + 5):
            (tmp_path / f"{number}.json").write_bytes(b"")
        assert f"{MOST_OF_ACCOUNT + 5} files" in gather(tmp_path).remarks[0]

    @AS_ROOT
    @pytest.mark.parametrize("hostile", ["slow blends", "many early files"])
    def test_no_seat_hides_another_or_holds_the_page_up(self, tmp_path, hostile):
        """Twenty honest seats beside hostile ones, each of its own account."""
        worst = example_document() | {
            "oils": [{"id": f"lavendar{n}"} for n in range(450)],
            "note_parts": {f"tpo{n}": "x" for n in range(200)},
        }
        for seat in range(20):
            file = write(tmp_path, handed(example_document()), f"z{seat}.json")
            os.chown(file, 65_000 + seat, -1)
        for number in range(20 if hostile == "slow blends" else 2000):
            file = write(tmp_path, handed(worst), f"a{number}.json")
            os.chown(file, 66_000 + number % (20 if hostile == "slow blends" else 1), -1)
        start = time.process_time()
        found = gather(tmp_path).seats
        seconds = time.process_time() - start
        honest = [one for one in found if one.blend is not None]
        assert len(honest) == 20
        assert seconds < 1

    @AS_ROOT
    def test_whose_it_is_says_the_account_and_not_the_file(self, tmp_path):
        import pwd

        account = pwd.getpwnam("nobody")
        file = write(tmp_path, handed(example_document(), "seat-01"))
        os.chown(file, account.pw_uid, -1)
        (found,) = gather(tmp_path).seats
        assert found.seat == "nobody"

    def test_the_folder_of_the_class_is_taken_for_the_one_below(self, tmp_path, blend):
        box = tmp_path / "hand-in"
        box.mkdir()
        hand_in(blend, box)
        assert len(gather(tmp_path).seats) == 1

    @AS_ROOT
    def test_hand_ins_keep_their_seats_when_the_accounts_go(self, tmp_path, blend):
        file = write(tmp_path, handed(example_document(), "seat-09"))
        os.chown(file, 64_003, -1)
        os.utime(file, (1_000_000, 1_000_000))
        name_owners(tmp_path, {64_003: "seat-03"}, 0)
        (found,) = gather(tmp_path).seats
        assert (found.seat, found.blend) == ("seat-03", blend)
        assert found.when.timestamp() == 1_000_000


@AS_ROOT
class TestDropBox:
    """Two learners' accounts beside each other, on a folder as a class has it."""

    A, B = 64_001, 64_002

    @pytest.fixture
    def box(self, tmp_path):
        from blendkit.classroom.accounts import make_drop_box

        for folder in (tmp_path, *tmp_path.parents):
            if folder.stat().st_uid == 0 and str(folder).startswith(tempfile.gettempdir()):
                folder.chmod(0o711)
        return make_drop_box(tmp_path, 0)

    def test_one_hands_in_and_another_can_neither_look_read_nor_take_away(self, box, blend):
        file = Path(as_account(self.A, lambda: hand_in(blend, box)))
        assert file.is_file()
        assert stat.S_IMODE(file.stat().st_mode) == 0o640
        assert as_account(self.B, lambda: list(box.iterdir())) == "PermissionError"
        assert as_account(self.B, file.read_text) == "PermissionError"
        assert as_account(self.B, file.unlink) == "PermissionError"
        assert as_account(self.B, lambda: gather(box)) == "CannotHandIn"
        assert as_account(self.B, lambda: file.rename(box / "mine.json")) == "PermissionError"
        (found,) = gather(box).seats
        assert found.blend.to_dict() == example_document()


HEALTH = {
    "seats": [
        {"name": "Invented Ann", "wearers": ["epilepsy or seizures"], "strength_cap": "12 %"},
        {"wearers": ["nut allergy", "pregnant or breastfeeding"], "sun_afterwards": True},
        {"dislikes": ["lavender"]},
    ],
    "oils": [{"id": name} for name in ("rosemary-camphor", "lemon", "lavender", "clary-sage",
                                       "cedarwood-atlas")],
}  # fmt: skip


@pytest.fixture
def plan():
    return read_class(example_class() | HEALTH)


class TestLaptops:
    """What a seat's workbook knows of its class."""

    def test_nobodys_name_or_health_is_in_what_laptops_get(self, plan):
        text = json.dumps(
            [for_laptops(plan), *(seat_file(plan, None, seat) for seat in plan.seats)]
        )
        secrets = {*WEARERS, SUN, DISLIKE, "Ann", "wearers", "sun_after", "dislikes"}
        assert [word for word in secrets if word in text] == []

    def test_every_seat_hears_the_same_exclusions_without_a_reason(self, plan):
        again = read_class(for_laptops(plan))
        for one, other in zip(seat_plans(plan), seat_plans(again), strict=True):
            assert other.may_use == one.may_use
            assert other.carrier == one.carrier
            assert other.most_drops == one.most_drops
            assert set(other.leaves_out.values()) <= {HERE}
            assert {each.material for each in other.cautions} == {
                each.material for each in one.cautions
            }

    def test_a_seat_gets_its_own_exclusions_only(self, plan):
        document = for_laptops(plan, plan.seats[1])
        assert [bool(seat) for seat in document["seats"]] == [False, True, False]

    @settings(max_examples=30, deadline=None)
    @given(
        parts=st.fixed_dictionaries(
            dict.fromkeys(("top", "middle", "base"), st.sampled_from((0.5, 1, 2, 5)))
        ),
        strength=st.integers(2, 25),
        sun=st.booleans(),
    )
    def test_the_first_blend_keeps_to_seat_card_and_ratio(self, parts, strength, sun):
        seats = [{"sun_afterwards": sun, "wearers": ["nut allergy"], "strength_cap": "15 %"}]
        made = read_class(
            example_class() | {"seats": seats, "note_parts": parts, "strength": f"{strength} %"}
        )
        card, (seat,) = card_of(made), made.seats
        blend = Blend.from_dict(first_blend(made, card, seat))
        assert judge(made, card, seat, blend).sentences == ()
        asked = made.drops_by_note(made.most_drops(seat))
        got = dict.fromkeys(asked, 0)
        for part in blend.oils:
            got[part.note] += blend.oil_drops[part.oil.id]
        assert all(got[note] <= asked[note] for note in asked)
        assert sum(got.values()) > 0

    def test_a_seat_opens_its_class_and_refuses_to_hand_in_what_it_leaves_out(
        self, plan, tmp_path, monkeypatch
    ):
        file, box = tmp_path / "seat-02.json", tmp_path / "box"
        box.mkdir()
        file.write_text(json.dumps(seat_file(plan, card_of(plan), plan.seats[1])))
        monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "home"))
        monkeypatch.setenv("BLENDKIT_SEAT_CLASS", str(file))
        monkeypatch.setenv("BLENDKIT_SEAT", "seat-02")
        monkeypatch.setenv("BLENDKIT_HAND_IN", str(box))
        panel = first_bottle()
        view = panel.saved.at_seat
        assert panel.blend.to_dict()["bottle"] == "10 mL"
        assert [part.carrier.id for part in panel.blend.carriers] == ["jojoba"]
        assert "Lemon" in view.card.value
        assert "left out for this seat" not in view.words.view.value
        oils = [*panel.blend.to_dict()["oils"], {"id": "lemon", "note": "top", "parts": 1}]
        panel.show(panel.blend.with_(oils=oils, note_parts={"top": 1, "middle": 1, "base": 1}))
        panel.hand.write()
        assert "Has Lemon: left out for this seat." in view.words.view.value
        assert "sun" not in view.words.view.value
        view.buttons[0].click()
        assert "Remove it, then hand in" in panel.message.view.value
        assert list(box.iterdir()) == []

    def test_a_damaged_file_leaves_the_workbook_as_it_is(self, tmp_path, monkeypatch):
        for text in ("", "[]", '{"class": {}}', '{"class": 7, "first": 7}'):
            file = write(tmp_path, text, "seat.json")
            monkeypatch.setenv("BLENDKIT_SEAT_CLASS", str(file))
            assert at_seat() is None
            assert not seat_blend()


class TestSeats:
    def test_every_seat_has_a_phrase_of_its_own_and_only_that_opens_it(self, tmp_path):
        from blendkit.classroom.seats import (
            keep_seats,
            new_cards,
            read_seats,
            seat_names,
            verify_phrase,
        )

        cards = new_cards(seat_names(3))
        assert len({card.phrase for card in cards}) == 3
        keep_seats(tmp_path, cards, {})
        kept = read_seats(tmp_path)
        assert verify_phrase("seat-01", f" {cards[0].phrase.upper()} ", kept)
        assert not verify_phrase("seat-02", cards[0].phrase, kept)
        assert not verify_phrase("seat-01", "", kept)
        assert not verify_phrase("nobody", cards[0].phrase, kept)
        text = (tmp_path / "seats.json").read_text()
        assert all(card.phrase not in text for card in cards)
        assert stat.S_IMODE((tmp_path / "seats.json").stat().st_mode) == 0o600

    def test_a_renewed_seat_forgets_the_old_phrase_and_the_others_keep_theirs(self, tmp_path):
        from blendkit.classroom.seats import keep_seats, new_cards, read_seats, verify_phrase

        old = new_cards(["seat-01", "seat-02"])
        keep_seats(tmp_path, old, {})
        (new,) = new_cards(["seat-01"])
        keep_seats(tmp_path, [new], read_seats(tmp_path))
        kept = read_seats(tmp_path)
        assert not verify_phrase("seat-01", old[0].phrase, kept)
        assert verify_phrase("seat-01", new.phrase, kept)
        assert verify_phrase("seat-02", old[1].phrase, kept)

    @pytest.mark.parametrize("count", [0, -1, 500, 2.5, True, "ten", None])
    def test_a_number_of_seats_out_of_reach_is_refused_in_words(self, count):
        from blendkit.classroom.seats import seat_names

        with pytest.raises(BadNumber, match="a whole number from 1 to 200"):
            seat_names(count)

    def test_a_damaged_list_and_an_unknown_seat_are_said(self, tmp_path):
        from blendkit.classroom.seats import BadSeats, check_seats, read_seats

        (tmp_path / "seats.json").write_text("[1")
        with pytest.raises(BadSeats, match="cannot be read"):
            read_seats(tmp_path)
        with pytest.raises(BadNumber, match='Did you mean "seat-01"'):
            check_seats(["seat-1"], ["seat-01", "seat-02"])

    def test_the_cards_carry_seat_and_phrase(self):
        from blendkit.classroom.seats import new_cards
        from blendkit.showing.kit.rendering import render

        cards = new_cards(["seat-01", MARKUP])
        page = render("seat_cards", cards=cards, address="https://192.0.2.7:8000")
        assert all(card.phrase in page for card in cards)
        assert all(f"Username: <b>{card.seat}" in page for card in cards[:1])
        assert page.count("https://192.0.2.7:8000") == 2
        assert MARKUP not in page


class TestCommand:
    """What `python -m blendkit class` refuses before anything is changed."""

    @pytest.fixture
    def refused(self, tmp_path, capsys):
        from blendkit.classroom.command import main

        def run(*arguments: str) -> str:
            folder = tmp_path / "class"
            with pytest.raises(SystemExit) as stop:
                main(["--folder", str(folder), *arguments])
            assert not folder.exists()
            return str(stop.value)

        return run

    def test_beyond_this_machine_only_with_a_certificate(self, refused, tmp_path):
        assert "reads the pass phrases along" in refused("--address", "0.0.0.0")
        half = tmp_path / "a.pem"
        half.write_text("")
        assert "--certificate and --key" in refused("--certificate", str(half))
        assert "no such file" in refused("--key", str(tmp_path / "none"), "--address", "::")
        assert "needs a number" in refused("--address", "my laptop")

    def test_a_number_of_seats_out_of_reach(self, refused):
        assert "needs a whole number from 1 to 200" in refused("--seats", "500")
        assert "needs a whole number from 1 to 200" in refused("--seats", "0")

    def test_without_the_administrator(self, refused, monkeypatch):
        monkeypatch.setattr(os, "geteuid", lambda: 1000)
        assert "needs the administrator (sudo) on Linux" in refused("--seats", "2")

    @AS_ROOT
    def test_without_the_proxy(self, refused, monkeypatch):
        monkeypatch.setenv("PATH", "")
        assert "npm install -g configurable-http-proxy" in refused("--seats", "2")

    @AS_ROOT
    def test_a_class_is_removed_once_a_person_says_so(self, tmp_path, monkeypatch, capsys):
        from blendkit.classroom import accounts
        from blendkit.classroom.command import main

        folder = tmp_path / "class"
        (folder / "hub").mkdir(parents=True)
        (folder / "hub" / "seats.json").write_text('{"seat-777": "a$b"}')
        accounts.make_accounts(["seat-777"], folder)
        box = accounts.make_drop_box(folder, 0)
        (box / "a.json").write_text(json.dumps(handed(example_document())))
        shutil.chown(box / "a.json", "seat-777")
        for typed in ("", "yes\n"):
            monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
            with pytest.raises(SystemExit, match="Nothing was removed"):
                main(["--folder", str(folder), "--remove"])
            assert "seat-777 go" in capsys.readouterr().out
            assert accounts.seats_of(folder)
        monkeypatch.setattr(sys, "stdin", io.StringIO("remove\n"))
        main(["--folder", str(folder), "--remove"])
        assert accounts.seats_of(folder) == {}
        assert [each.name for each in folder.iterdir()] == ["hand-in"]
        assert [one.seat for one in gather(folder).seats] == ["seat-777"]
        with pytest.raises(SystemExit, match="got no seats"):
            main(["--folder", str(folder), "--remove"])

    @AS_ROOT
    def test_a_python_that_no_other_account_can_start(self, tmp_path, monkeypatch):
        from blendkit.classroom.accounts import CannotPrepare, check_python_is_reachable

        closed = tmp_path / "closed"
        closed.mkdir(mode=0o700)
        (closed / "python").symlink_to(sys.executable)
        monkeypatch.setattr(sys, "executable", str(closed / "python"))
        with pytest.raises(
            CannotPrepare,
            match=r"Permission denied.*outside every home.*/usr/bin/python3 -m venv",
        ):
            check_python_is_reachable()

    def test_an_account_of_somebody_else_is_left_alone(self, tmp_path):
        from blendkit.classroom.accounts import CannotPrepare, make_accounts

        with pytest.raises(CannotPrepare, match="needs an account of this class"):
            make_accounts(["nobody"], tmp_path)


class TestHub:
    """What the hub is told; a whole one is run by tests/benchmarks/classroom_benchmark.py."""

    @pytest.fixture
    def sign_in(self, tmp_path):
        pytest.importorskip("jupyterhub", reason="pip install blendkit[classroom]")
        from blendkit.classroom.seats import keep_seats, new_cards
        from blendkit.classroom.sign_in import SeatAuthenticator

        cards = new_cards(["seat-01", "seat-02"])
        keep_seats(tmp_path, cards, {})
        door = SeatAuthenticator(folder=str(tmp_path))

        one_thread = ThreadPoolExecutor(1)

        async def tried(*tries):
            data = [{"username": seat, "password": phrase} for seat, phrase in tries]
            return [await door.authenticate(None, one) for one in data]

        # in a thread of its own: page tests before this one may have left a loop running here
        return cards, lambda *tries: one_thread.submit(asyncio.run, tried(*tries)).result()

    def test_the_right_phrase_opens_and_a_wrong_one_delays(self, sign_in, monkeypatch):
        cards, tried = sign_in
        waits = []

        async def sleep(seconds):
            waits.append(round(seconds))

        monkeypatch.setattr(asyncio, "sleep", sleep)
        one, two = cards
        right = (one.seat.upper(), one.phrase)
        got = tried(right, (one.seat, two.phrase), right, ("root", ""), (two.seat, two.phrase))
        assert got == ["seat-01", None, "seat-01", None, "seat-02"]
        assert waits == [0, 0, 2, 0, 0]  # a neighbour's wrong tries lock nobody else out

    def test_the_config_closes_what_a_class_needs_closed(self, tmp_path, monkeypatch):
        pytest.importorskip("jupyterhub", reason="pip install blendkit[classroom]")
        from traitlets.config.loader import PyFileConfigLoader

        from blendkit.classroom import command, sign_in, spawning

        monkeypatch.setenv("BLENDKIT_CLASS", str(tmp_path))
        loader = PyFileConfigLoader(command.CONFIG.name, path=str(command.CONFIG.parent))
        told = loader.load_config()
        assert told.JupyterHub.authenticator_class is sign_in.SeatAuthenticator
        assert told.JupyterHub.spawner_class is spawning.SeatSpawner
        hub = str(tmp_path / "hub")
        assert told.JupyterHub.cookie_secret_file.startswith(hub)
        assert hub in told.JupyterHub.db_url

    def test_kernels_of_a_class_use_no_port(self):
        from blendkit.classroom.learner import CLOSED_TO_OTHERS

        assert "--KernelManager.transport=ipc" in CLOSED_TO_OTHERS
