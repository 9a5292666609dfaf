"""Django's door to PostgreSQL, which tells the database as whom it is asked."""
