"""`python -m blendkit`: open the workbook; `python -m blendkit class`: serve it to a class."""

import sys

from blendkit.workbook.server import open_workbook

HELP = """\
python -m blendkit             open the workbook in the browser
python -m blendkit class       serve it to a class; more under: python -m blendkit class --help
python -m blendkit --help      show this

Notebooks and what you keep are in the folder blendkit-workbook in your home. To have them
elsewhere, set BLENDKIT_HOME to another folder.

Any other option goes to JupyterLab as typed, such as --no-browser or --port=8890. To see them
all: python -m jupyterlab --help"""


def main(arguments: list[str]) -> None:
    """Do what was asked for on the command line, given without the program's own name."""
    if arguments[:1] == ["class"]:
        from blendkit.classroom.command import main as serve_a_class

        serve_a_class(arguments[1:])
    elif {"-h", "--help", "--help-all"} & set(arguments):
        print(HELP)  # noqa: T201 - the terminal is this command's page
    else:
        open_workbook(arguments)


if __name__ == "__main__":
    main(sys.argv[1:])
