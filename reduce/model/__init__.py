"""The records that every stage shares.

Nothing here imports a library or another package of ours.  Times are whole ticks from the start of the
piece (``Score.resolution`` ticks to a quarter-note); pitches are sounding and keep their spelling; bars are
known by their 0-based index and carry the number that is printed.
"""
