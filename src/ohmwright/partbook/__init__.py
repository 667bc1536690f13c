"""What anybody may know of parts: kinds by reference and value, roles by pin name, rails by name."""
