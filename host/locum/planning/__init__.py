"""From a profile to a plan: integer steps for one board, sensor and module, each one checked."""
