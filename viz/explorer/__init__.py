"""The pages of the explorer, as files for a browser, and the pictures that they show."""

from pathlib import Path

BAY_PAGE = Path(__file__).parent / "bay"
"""The folder of the page that shows a bay."""

HOUSE_PAGE = Path(__file__).parent / "house"
"""The folder of the page that shows a house; it takes what both share from the other."""
