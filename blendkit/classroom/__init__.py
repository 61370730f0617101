"""A class with laptops: one machine serves the same workbook to everyone, by JupyterHub."""
