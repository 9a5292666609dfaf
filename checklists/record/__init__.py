"""The record of facts and the one write path."""
