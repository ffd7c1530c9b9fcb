"""What an upload point takes; the same numbers stand in the form's help text."""

MAX_PHOTOS = 12  # with a report, and as many again with each reply
MAX_CASE_PHOTOS = 60  # of one print in all
MAX_BYTES = 25 * 1024 * 1024  # one file
MAX_BYTES_WORDS = "25 MB"
MAX_PIXELS = 60_000_000  # decoded size is what fills the memory, whatever the file weighs
MAX_BODY_BYTES = (MAX_PHOTOS + 1) * MAX_BYTES  # one form with all its photos
LABEL_CHARS = 120
ALT_TEXT_CHARS = 300
ACCEPT = "image/jpeg,image/png,image/webp,image/heic,image/heif,.heic,.heif"
