"""The command `blendkit`: open the workbook, or serve it to a class."""

import sys
from importlib.metadata import version

from blendkit.foundation import keep
from blendkit.foundation.defects import in_one_line, where_recorded
from blendkit.foundation.errors import BlendkitError

HELP = """\
blendkit               open the workbook in the browser
blendkit class         serve it to a class; for its options: blendkit class --help
blendkit --restore 02  put notebook 02 back as it ships; a changed one stays as a copy
blendkit --version     show the version
blendkit --help        show this help

Notebooks and everything you keep are in the folder blendkit-workbook in your home.
To use another folder, set BLENDKIT_HOME to it.

Any other option goes to JupyterLab, such as --no-browser or --port=8890; blendkit --help-all
lists them. Where the command blendkit is not found, type: python -m blendkit"""


def main(arguments: list[str] | None = None) -> None:
    """Run the command; an error ends it with a sentence and never with a traceback.

    Parameters
    ----------
    arguments : list of str, optional
        Without the program's own name; those of the command line by default.

    Raises
    ------
    SystemExit
        With the sentence, which Python prints to the terminal.
    """
    try:
        _run(sys.argv[1:] if arguments is None else arguments)
    except BlendkitError as error:
        raise SystemExit(f"blendkit: {error}") from None
    except Exception as error:
        text = f"something broke ({in_one_line(error)}). {where_recorded(error)}"
        raise SystemExit(f"blendkit: {text}") from None


def _run(arguments: list[str]) -> None:
    if arguments[:1] == ["class"]:
        from blendkit.classroom.command import main as serve_a_class

        serve_a_class(arguments[1:])
    elif {"-h", "--help"} & set(arguments):
        _print(HELP)
    elif {"-V", "--version"} & set(arguments):
        _print(f"blendkit {version('blendkit')}")
    elif arguments[:1] == ["--restore"]:
        from blendkit.workbook.notebooks import FOLDER, put_back

        copy = put_back(keep.home() / FOLDER, " ".join(arguments[1:]))
        _print(f"Done. The former one is {copy}" if copy else "Done.")
    elif "--help-all" in arguments:
        from jupyterlab.labapp import LabApp

        LabApp.launch_instance(["--help-all"])
    else:
        from blendkit.workbook.server import open_workbook

        open_workbook(arguments)


def _print(text: str) -> None:
    print(text)  # noqa: T201 - the terminal is this command's page


if __name__ == "__main__":
    main()
