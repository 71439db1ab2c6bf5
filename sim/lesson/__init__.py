"""Lessons of a classroom: `data` says what a lesson holds, `follow` solves its cases and keeps them."""
