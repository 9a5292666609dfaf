"""Somebody leaves: the ending of an account, with what is in their hands shown and handed on; and moving by a day."""
