"""Labels: fonts, layout and printed pages."""
