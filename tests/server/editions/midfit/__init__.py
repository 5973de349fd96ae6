"""A small app that only the test of a killed fit installs: the first fit of one channel stops before it is kept."""

NOTE = "in-the-middle"
"""A file of the data directory: the id of the process that was in the middle of the fit."""
