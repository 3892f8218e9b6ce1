"""A picture out of a form's file field."""

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from decor.studio.pictures import CleanPicture, PictureRefused, read_picture

PICTURES = "image/jpeg,image/png,image/webp,image/heic,image/heif,.heic,.heif"


def taken(sent: UploadedFile) -> CleanPicture:
    """The picture that was sent, or ValidationError in words."""
    if sent.size > settings.PICTURE_MAX_BYTES:
        raise forms.ValidationError(
            f"This file is {-(-sent.size // 2**20)} MB; the most is 15 MB. Save a smaller copy and send that."
        )
    try:
        return read_picture(sent.read())
    except PictureRefused as refusal:
        raise forms.ValidationError(refusal.message) from refusal
