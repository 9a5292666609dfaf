"""What every app stands on: settings, staff, access, audit, outbox and the processes that run it all.

Nothing is imported here, since `manage.py` reaches through this package before any library is installed.
"""
