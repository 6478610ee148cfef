"""The proof of a procedure: every reachable state walked, each section's ways walked, and the rules of safety kept."""
