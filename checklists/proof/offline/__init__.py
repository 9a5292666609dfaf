"""The parts of `verify.py`, which a proof bundle carries: pure, with the standard library and `cryptography` alone.

They are modules here, to be read and tested like any other; `assembled.py` makes one file of them.
"""
