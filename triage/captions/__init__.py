"""Captions of a show: reading them, and cutting them into segments."""
