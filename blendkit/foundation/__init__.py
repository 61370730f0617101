"""What everything stands on: how to say no, units, the data tables, the maker's folder."""
