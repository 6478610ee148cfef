"""A procedure as a sheet for those who work on paper: steps to tick, readings to write, and what each result means."""
