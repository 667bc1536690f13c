"""Pictures of boards: rendering practice boards, reading what a user hands us, cutting tiles."""
