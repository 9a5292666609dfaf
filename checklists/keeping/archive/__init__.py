"""A person's whole record as one file: for people to read and print, and for machines to take in again."""
