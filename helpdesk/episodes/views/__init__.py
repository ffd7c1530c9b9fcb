"""Pages of episodes, run sheets and their parts."""
