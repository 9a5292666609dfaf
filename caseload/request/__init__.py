"""What a therapist asks of the prosthetist."""
