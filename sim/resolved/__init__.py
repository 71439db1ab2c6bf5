"""Cavity air whose flow is computed, together with the solids around it."""
