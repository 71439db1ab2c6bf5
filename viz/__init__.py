"""Pictures and pages from stored results: what is drawn was solved before, and no physics is done again.

A drawing is a function of `choice.Choice` under `drawable.takes_result`; `report`, `view`, `drawings` and `explorer`
are rooms of their own.
"""
