"""Job and shop files read, with every mistake told at once; results as data."""
