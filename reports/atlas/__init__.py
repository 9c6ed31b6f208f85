"""Sections of an edition's page: findings turned into words, rows and figures."""
