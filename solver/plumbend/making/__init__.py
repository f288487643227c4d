"""From the fitted tube to what is made at the bender."""
