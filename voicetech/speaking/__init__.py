"""From a reply's words to sound."""
