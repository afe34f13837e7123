"""The page as a server: on this machine only, or shared on purpose with whoever holds its key."""
