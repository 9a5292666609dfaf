"""How fast it is: each figure is a ratio to a floor that is measured in the same run, on the same machine and data.

A floor is the least that the same work can cost when it is written by hand for this one purpose. Floor and programme
take turns (interleaved pairs), and medians are compared, so that a busy machine spoils both alike.
"""
