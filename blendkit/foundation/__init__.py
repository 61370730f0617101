"""Foundation of all rooms: errors, units, data tables, the maker's folder."""
