"""Steps from each shape of the store to the next."""
