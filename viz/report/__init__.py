"""A run, a warm-up or a comparison as one page to hand over: HTML that needs nothing else, and the same on paper."""
