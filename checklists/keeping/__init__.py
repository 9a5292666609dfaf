"""Keeping and giving out: retention and legal hold, a person's archive, corrections that are asked for, erasure."""
