"""Our own demo people, cases and photos; every one of them invented."""
