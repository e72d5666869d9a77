"""From facts to what may be said: exposure, exact tests, steps of proof, suspects, advice."""
