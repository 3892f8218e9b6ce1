"""How files come in: kept in memory once, and only up to the largest that the program takes."""

from io import BytesIO

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadedfile import InMemoryUploadedFile
from django.core.files.uploadhandler import FileUploadHandler


class BoundedUploadHandler(FileUploadHandler):
    """A file that grows too large is let through and forgotten, not refused half-way: the form's other fields
    come after it, and the person must hear what is wrong beside the right one."""

    def handle_raw_input(self, input_data, META, content_length, *args: object) -> None:
        """What is far larger than any picture is not even read to its end, which would keep a thread for as long as
        the sender likes."""
        if content_length > settings.REQUEST_MAX_BYTES:
            raise RequestDataTooBig("the request is larger than anything that is taken")

    def new_file(self, *args: object, **kwargs: object) -> None:
        super().new_file(*args, **kwargs)
        self.kept = BytesIO()
        self.received = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        self.received += len(raw_data)
        if self.received > settings.PICTURE_MAX_BYTES:
            self.kept = BytesIO()
        else:
            self.kept.write(raw_data)

    def file_complete(self, file_size: int) -> InMemoryUploadedFile:
        self.kept.seek(0)
        return InMemoryUploadedFile(
            file=self.kept,
            field_name=self.field_name,
            name=self.file_name,
            content_type=self.content_type,
            size=self.received,
            charset=self.charset,
        )
