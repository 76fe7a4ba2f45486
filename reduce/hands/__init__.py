"""Real hands on a real keyboard: reach, movement, fingering, load.

Imports only the shared records.  Distances are millimetres between key centres, times seconds, keys MIDI numbers.
"""
