"""A small app that only the test of the running service installs: one job that never ends at its first attempt."""
