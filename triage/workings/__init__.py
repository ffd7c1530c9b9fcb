"""Small calculations with a formula, a unit and a source, one subject a module."""
