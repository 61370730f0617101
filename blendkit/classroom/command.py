"""`blendkit class`: prepare the seats, print their cards, start the hub; or clean up."""

import argparse
import ipaddress
import json
import os
import shutil
import socket
import sys
from importlib.util import find_spec
from pathlib import Path

from blendkit.classroom import accounts, seats
from blendkit.classroom.accounts import CannotPrepare
from blendkit.foundation.errors import BlendkitError, attempt
from blendkit.foundation.whole_files import write_text
from blendkit.showing.kit.rendering import render
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.hand_in import BOX
from blendkit.teaching.laptop import read_file, seat_file

FOLDER = Path("/var/lib/blendkit-class")
CONFIG = Path(__file__).with_name("jupyterhub_config.py")


def main(arguments: list[str]) -> None:
    """Prepare a class and serve it until interrupted.

    Parameters
    ----------
    arguments : list of str
        As typed; what is not known here goes to JupyterHub.
    """
    asked, extra = _parser().parse_known_args(arguments)
    try:
        if asked.remove:
            _remove(asked.folder)
            return
        address = _address(asked)
        plan = read_file(asked.of) if asked.of else None
        usual = len(plan.seats) if plan else 12
        count = usual if asked.seats is None else asked.seats
        cards = prepare(asked.folder, count, asked.renew, _typed_in(address), plan)
    except BlendkitError as error:
        raise SystemExit(str(error)) from error
    if cards:
        _say(f"Cards to print and then to delete: {asked.folder / 'hub' / 'cards.html'}")
    _say(f"What learners hand in gathers in {asked.folder / BOX}; see notebook 08.")
    _say(f"The class is at {_typed_in(address)}; Ctrl+C ends it.")
    _serve(asked, address, extra)


def _say(sentence: str) -> None:
    print(sentence, flush=True)  # noqa: T201 - the terminal is this command's page


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m blendkit class", description=__doc__)
    parser.add_argument("--of", type=Path, help="file of the class, as notebook 08 saved it")
    parser.add_argument(
        "--seats", type=int, help="how many learners (as many as the class; 12)"
    )
    parser.add_argument("--remove", action="store_true", help="remove a class; asks first")
    parser.add_argument("--folder", type=Path, default=FOLDER, help=f"of the class ({FOLDER})")
    parser.add_argument(
        "--renew", nargs="+", default=[], metavar="SEAT", help="new pass phrases for seats"
    )
    parser.add_argument("--address", default="127.0.0.1", help="to listen at (this machine)")
    parser.add_argument("--port", type=int, default=8000)
    parser.add_argument("--certificate", type=Path, help="file, needed beyond this machine")
    parser.add_argument("--key", type=Path, help="file that belongs to the certificate")
    return parser


def _address(asked: argparse.Namespace) -> str:
    """Address of the class.

    Raises
    ------
    CannotPrepare
        Pass phrases would go readably through the air: no certificate beyond this machine.
    """
    try:
        alone = ipaddress.ip_address(asked.address).is_loopback
    except ValueError as error:
        fix = "Such as 127.0.0.1, or 0.0.0.0 for every network this machine is in."
        raise CannotPrepare(
            f'--address: got "{asked.address}"; needs a number. {fix}'
        ) from error
    files = [file for file in (asked.certificate, asked.key) if file is not None]
    if missing := [str(file) for file in files if not file.is_file()]:
        needed = "needs the certificate and the key that belongs to it"
        raise CannotPrepare(f"{', '.join(missing)}: got no such file; {needed}.")
    if len(files) == 1 or not (files or alone):
        needed = "needs --certificate and --key: without them everybody on the network reads"
        fix = "blendkit/classroom/README.md has the line that makes a pair for one afternoon."
        raise CannotPrepare(
            f"--address {asked.address}: {needed} the pass phrases along. {fix}"
        )
    return f"{'https' if files else 'http'}://{asked.address}:{asked.port}"


def _typed_in(address: str) -> str:
    """The address for the cards; every network of this machine has its name."""
    return address.replace("//0.0.0.0:", f"//{socket.gethostname()}:")


def prepare(
    folder: Path, count: int, renew: list[str], address: str = "", plan: ClassPlan | None = None
) -> list[seats.SeatCard]:
    """Make the seats, their accounts and the folder to hand in to.

    Parameters
    ----------
    folder : Path
        Of the class; made where it is missing.
    count : int
        Seats in all. Seats that were there before keep their pass phrase.
    renew : list of str
        Seats that get a new one.
    address : str, optional
        For the cards.
    plan : ClassPlan, optional
        The class that every seat opens; where left out, that of the last time, or the example.

    Returns
    -------
    list of SeatCard
        New cards only.

    Raises
    ------
    CannotPrepare
        Not started by the administrator, no proxy, or a folder closed to the seats.
    BadNumber
        A number of seats that one machine does not serve, or a seat that is none.
    """
    names = seats.seat_names(count)
    _check_machine()
    hub = folder / "hub"
    hub.mkdir(parents=True, exist_ok=True)
    hub.chmod(accounts.CLOSED)
    folder.chmod(0o711)  # to pass through, not to look around
    kept = seats.read_seats(hub)
    renewed = seats.check_seats(renew, kept)
    accounts.make_accounts(names, folder)
    accounts.make_drop_box(folder, _teacher())
    if plan is not None:
        card = attempt([], card_of, plan)
        accounts.give_out(folder, {name: _seat_text(plan, card, name) for name in names})
    cards = seats.new_cards([*renewed, *(name for name in names if name not in kept)])
    if cards:
        seats.keep_seats(hub, cards, kept)
        # in place of older cards, which may be those of phrases that were renewed
        page = render("seat_cards", cards=cards, address=address)
        write_text(hub / "cards.html", page)
    return cards


def _teacher() -> int:
    """The account that ran sudo."""
    return int(os.environ.get("SUDO_UID", os.geteuid()))


def _seat_text(plan: ClassPlan, card: ChoiceCard | None, name: str) -> str:
    seat = plan.seat_named(name)
    if seat is None:
        fix = "Add seats to the class in notebook 08, or leave --seats out."
        raise CannotPrepare(f"{name}: got no such seat in a class of {len(plan.seats)}. {fix}")
    return json.dumps(seat_file(plan, card, seat), ensure_ascii=False)


def _remove(folder: Path) -> None:
    """Remove the accounts and folders of a class, once a person has said yes."""
    _check_administrator()
    hub = folder / "hub"
    names = {*seats.read_seats(hub), *accounts.seats_of(folder).values()}
    if not names:
        raise CannotPrepare(f"{folder}: got no seats; needs the folder of a class (--folder).")
    goes = f"The accounts {', '.join(sorted(names))} go, with all that is in their folders"
    _say(f"{goes}, and the cards. {folder / BOX} stays. Type remove to go on:")
    if sys.stdin.readline().strip() != "remove":
        raise CannotPrepare("Nothing was removed.")
    accounts.remove_accounts(folder, names, _teacher())
    shutil.rmtree(hub, ignore_errors=True)
    _say(f"Removed. What was handed in is in {folder / BOX}.")


def _check_administrator() -> None:
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        needed = "needs the administrator (sudo) on Linux: every seat gets an account"
        raise CannotPrepare(f"{needed} of its own, so that no learner reads another one's.")


def _check_machine() -> None:
    _check_administrator()
    if shutil.which("configurable-http-proxy") is None:
        fix = "It is a Node program: sudo npm install -g configurable-http-proxy"
        raise CannotPrepare(f"configurable-http-proxy: got nothing; the hub needs it. {fix}")
    if find_spec("jupyterhub") is None:
        fix = 'pip install "blendkit[classroom]"'
        raise CannotPrepare(f"jupyterhub: got nothing; a class needs it. {fix}")
    accounts.check_python_is_reachable()


def _serve(asked: argparse.Namespace, address: str, extra: list[str]) -> None:
    from jupyterhub.app import JupyterHub

    os.environ["BLENDKIT_CLASS"] = str(asked.folder)
    options = [f"--config={CONFIG}", f"--JupyterHub.bind_url={address}/"]
    if asked.certificate:
        options += [f"--JupyterHub.ssl_cert={asked.certificate}"]
        options += [f"--JupyterHub.ssl_key={asked.key}"]
    sys.argv[1:] = []
    JupyterHub.launch_instance([*options, *extra])
