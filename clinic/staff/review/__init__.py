"""The accounts looked through from time to time (21 CFR 11.300(b)): what to recall, to renew, to ask about."""
