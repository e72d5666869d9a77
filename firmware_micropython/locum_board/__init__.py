"""The board's engine: no pin, no port, no clock in it; time is an argument.

Two halves. *Talk* (``talk.py``) reads commands and answers them in the main loop. The *player*
(``player.py``) acts: steps, samples, edges, trips; it allocates nothing and cannot raise. Orders
pass from talk to player through a mailbox. Both are plugged into ``hands`` (``hands.py``): pins on
the Pico, gpiozero on a Raspberry Pi, numbers on the virtual board. Runs unchanged on MicroPython
and CPython; integers only, and on the player's side all of them below 2**30.
"""

FIRMWARE = "0.1.0"
PROTOCOL = 1
PROTOCOL_MINOR = 0
