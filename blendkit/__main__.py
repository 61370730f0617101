"""`python -m blendkit`: open the workbook. Further options go to JupyterLab."""

import sys

from blendkit.workbook import open_workbook

if __name__ == "__main__":
    open_workbook(sys.argv[1:])
