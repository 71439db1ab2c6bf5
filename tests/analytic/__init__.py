"""Closed-form answers that tests compare with."""
