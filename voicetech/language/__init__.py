"""Words in, meanings out, and back: one phrase grammar with several readers."""
