"""Copper that carries a current and boards that carry heat: fields in two dimensions, as numbers only."""
