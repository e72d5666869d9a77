"""Proofs of the circuit: each module builds ngspice decks from the circuit data and judges them."""
