"""What is read of one letter. Beyond these it is kept whole and a reviewer looks at it."""

MAX_BYTES = 50 * 1024 * 1024  # one letter as it came
MAX_BYTES_WORDS = "50 MB"
MAX_PARTS = 1000
MAX_DEPTH = 50  # parts inside parts, letters inside letters
MAX_HEAD_BYTES = 256 * 1024  # the header fields of one part
MAX_FIELDS = 1000
MAX_VALUE_CHARS = 16_384  # of one header field
MAX_ADDRESSES = 100
MAX_TEXT_CHARS = 200_000  # of the whole text
MAX_WORDS_CHARS = 20_000  # of what goes to the case
MAX_FILES = 40
MAX_RECEIVED = 100  # RFC 5321 section 6.3: a loop is not suspected below this
# Pictures smaller than this are signs of a signature, not photos [common practice, no source].
LOGO_PX = 96
LOGO_BYTES = 4096
PIXEL_PX = 8  # nobody photographs a print in this few
# A sender with more letters than this in an hour is a machine [common practice, no source].
MAX_LETTERS_AN_HOUR = 30
