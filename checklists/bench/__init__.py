"""The prosthetist's Bench: the queue, the history of settings, and what a change sets back before it is made."""
