"""The core in JavaScript (checklists/static/checklists/core) says what the core in Python says, byte for byte."""
