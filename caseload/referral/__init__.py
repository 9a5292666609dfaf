"""Referrals and the waiting list."""
