"""Typical circuits: what belongs around each family of integrated circuit, and what its failing would do."""

from ohmwright.partbook.circuits.role import Family, Latent, Role, Worth

__all__ = ["Family", "Latent", "Role", "Worth"]
