"""The designs of the Otter & Oar Rowing Club, which does not exist."""
