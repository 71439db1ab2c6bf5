"""Cavity air whose flow is computed, together with the solids around it."""

FILMS_FILE = "air_films.json"
"""File of a run folder that holds the films which its air teaches."""
