"""What shows: results turned into figures, sentences and pages."""
