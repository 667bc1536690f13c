"""The page and what it talks to: a thin door to the use cases."""
