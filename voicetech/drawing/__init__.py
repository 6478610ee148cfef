"""A procedure as drawings for paper: its sections and where each result leads, and the circuit beside it.

Nothing here decides anything. What leads where is what `dialogue` does, said once in `ways`; drawings, charts and the
checklist are made of that.
"""
