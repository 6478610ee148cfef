"""Procedures broken in hundreds of ways, and what finds them out."""
