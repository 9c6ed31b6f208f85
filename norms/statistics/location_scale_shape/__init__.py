"""Distributions whose location, scale and shape vary with covariates, fitted with penalties."""
