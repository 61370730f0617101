"""Tables, charts, pictures and pages for people."""
