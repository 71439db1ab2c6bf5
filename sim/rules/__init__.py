"""Numbers held against rules with their source: limits of coverings and feet, boring of joists, cautions.

A rule that nobody publishes says so. `cautions.py` collects what a result is warned about.
"""
