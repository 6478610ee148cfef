"""A job turn by turn, for whoever reviews it: facts, the page made of them, and captions."""
