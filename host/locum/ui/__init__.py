"""Screens, and the same line by line."""

import os

if "SSH_CONNECTION" not in os.environ:
    # Escape brings the real sensor: nothing is waited for after it but what a key's own code needs.
    # (The drawing library reads this when it is first imported; 100 ms without it.)
    os.environ.setdefault("ESCDELAY", "30")
