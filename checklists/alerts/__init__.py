"""Alerts: raised with the fact, told by the worker, answered with what was done."""
