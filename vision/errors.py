"""What vision may raise.

::

    VisionError
      PhotoError    the file cannot be used as a photo
      TableError    a file in vision/data/ or a user's own table breaks its rules
      ModelError    a network file is missing or altered
      RecordError   a job record is damaged or too new

Messages read ``what: what was seen; what is needed. What to do.`` and are shown
to the technician as they are.  ``ValueError`` and ``TypeError`` mean a mistake of
ours and are never shown.
"""

PHOTO_KINDS = "JPEG, PNG, WebP, TIFF, HEIC or BMP"
"""The kinds of photo that are read, as messages name them."""


class VisionError(Exception):
    """Base of every error whose text is meant for the technician."""

    code = "vision"


class PhotoError(VisionError):
    """The file cannot be used as a photo."""

    code = "photo"


class TableError(VisionError):
    """A table of packages, limits or pin names breaks its rules."""

    code = "table"


class ModelError(VisionError):
    """A network file is missing or altered."""

    code = "model"


class RecordError(VisionError):
    """A job record is damaged or was written by a newer version."""

    code = "record"
