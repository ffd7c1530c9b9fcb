"""Stop oversized files while they arrive, before they are kept anywhere."""

from typing import Any

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import TemporaryFileUploadHandler

from helpdesk.photos.limits import MAX_BODY_BYTES, MAX_BYTES


class OversizeFile(UploadedFile):  # type: ignore[type-arg]
    """Stands for a file that was too large: it has a name and a size but no content."""


class LimitedUploadHandler(TemporaryFileUploadHandler):
    """Write files to disk as they arrive, but none beyond the limit of one file.

    The rest of an oversized file is read and thrown away, so the other fields of the form still
    arrive and nothing that was typed is lost. A body that is far too large is not read at all.
    """

    most_bytes = MAX_BYTES
    most_body_bytes = MAX_BODY_BYTES
    _received = 0

    def handle_raw_input(
        self,
        input_data: Any,
        META: dict[str, str],  # noqa: N803 - Django's name
        content_length: int,
        boundary: Any,
        encoding: str | None = None,
    ) -> None:
        """Refuse the whole request when its stated length can be no honest form."""
        if content_length > self.most_body_bytes:
            raise RequestDataTooBig("The form with its files is too large.")

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Begin counting again."""
        super().new_file(*args, **kwargs)
        self._received = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Write data while the file is within the limit."""
        self._received = start + len(raw_data)
        if self._received <= self.most_bytes:
            super().receive_data_chunk(raw_data, start)

    def file_complete(self, file_size: int) -> UploadedFile | None:  # type: ignore[type-arg]
        """Hand over the file, or a stand-in without content for an oversized one."""
        if self._received <= self.most_bytes:
            return super().file_complete(file_size)
        self.file.close()
        return OversizeFile(
            name=self.file_name, content_type=self.content_type, size=self._received
        )
