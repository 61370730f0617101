"""A class: charts, tables and hand-outs."""
