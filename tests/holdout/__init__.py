"""A second opinion: lessons, takes, truth and a count made from the contract alone, for the command line to grade.

Of `tests.bench` it knows nothing but where the recorded notes and the SoundFont lie, so that both are seldom wrong in
the same way.
"""
