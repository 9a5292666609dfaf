"""`manage.py fuzz`: whatever is sent, the core and everything that parses what comes from outside refuses it in words.

- seeds: good and bad examples, of the conformance set and the default protocol
- mutate: changes to an example that keep most of its structure, so that they come deep before they are noticed
- targets: what is given the changed example, and which refusals are its right to answer
- running: many inputs, each made again from the seed and its number alone
"""
