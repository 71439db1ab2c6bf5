"""The kinds of problem, each a type in one file: bay and blocks, at rest and in time, and air alone.

`kind.Kind` says what each can do: hold a case, check, prepare, solve, summarise and save it. `kinds` lists them and
says which of them a case states; commands and verification ask it.
"""
