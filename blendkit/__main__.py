"""`python -m blendkit`: open the workbook. Further options go to JupyterLab.

`python -m blendkit class` serves the workbook to a class instead.
"""

import sys

from blendkit.workbook import open_workbook

if __name__ == "__main__":
    if sys.argv[1:2] == ["class"]:
        from blendkit.classroom.command import main

        main(sys.argv[2:])
    else:
        open_workbook(sys.argv[1:])
