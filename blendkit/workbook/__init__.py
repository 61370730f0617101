"""The workbook as it opens: notebooks in the maker's folder, and JupyterLab over it."""
