"""What is taken beside photos; the same numbers stand in the help text of every upload point."""

MAX_FILES = 12  # with a report, and as many again with each reply
MAX_CASE_FILES = 60  # of one print in all
MAX_BYTES = 64 * 1024 * 1024  # one file as sent
MAX_BYTES_WORDS = "64 MB"
MAX_UNPACKED_BYTES = 256 * 1024 * 1024  # what is in it
MAX_UNPACKED_WORDS = "256 MB"
MAX_SETTINGS_BYTES = 1024 * 1024
MAX_SETTINGS_WORDS = "1 MB"
MAX_MEMBERS = 400  # of an archive or a 3MF package
MAX_RATIO = 200  # unpacked to packed; print files of long straight moves reach 20 to 40
LABEL_CHARS = 120
