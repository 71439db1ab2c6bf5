"""A run as a scene that a person turns: what it holds, and how it is shown as a page or in a window."""
