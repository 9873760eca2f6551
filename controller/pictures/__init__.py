"""Week, year, dials and wiring as drawings. Pure."""
