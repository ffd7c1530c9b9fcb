"""The archive’s only way to the engine: captions and their segments."""
