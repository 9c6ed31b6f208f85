"""Drafting a lab profile from one capture: each statement with its evidence and how sure it is."""
