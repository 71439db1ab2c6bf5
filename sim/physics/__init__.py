"""One effect a file, on plain arrays and numbers: conduction, films, cavity, radiation, tube, contact, feet.

Each states its equation, its range and its source, and knows neither a case nor a grid. `surroundings` holds the
laws of outer surfaces, `learned_films` what computed flows taught films of a cavity with tubes.
"""
