"""Tests. `tests/` mirrors the code; README.md says how they are run."""
