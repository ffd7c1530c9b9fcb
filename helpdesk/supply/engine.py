"""The notices’ only way to the engine: shares with their intervals."""
