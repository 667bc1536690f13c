"""Measurements: each prints its figures, with the seeds it was given."""
