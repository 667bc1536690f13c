"""The display of a meter read from a camera's picture, offline: unsure means asked, never guessed."""
