"""The kinds of event: one pandera model each, from which identity, table schemas and documentation follow.

Nothing here knows where rows come from or go to; it imports pandera and polars only.
"""
