"""An invented island, its animals and its recorders: a simulation whose truth is known.

Nothing here is real but the species' names. The island lies in the empty sea squares OQ and OR of the British
grid, so that no invented record can pass for a real one.
"""
