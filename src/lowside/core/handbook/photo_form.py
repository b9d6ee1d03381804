"""The form that attaches a photo, and how large a photo may be."""

from lowside.core.handbook.fields import CHOICE, FILE, Field, Form

MOST_BYTES = 300_000
"""Of one photo [bytes]. Our choice: ten of them cross a slow phone network in a minute or two."""

LONGEST_SIDE = 1600
"""Of one photo [pixels]. Our choice: the small print of a nameplate is readable at this size."""

PHOTO_KINDS = (("nameplate", "Nameplate"), ("gauges", "Gauges"), ("other", "Other"))
"""What a photo shows. Nobody has to say it: a form that comes back has lost its photo."""

PHOTO = Form(
    "photo",
    "photo.taken",
    "Attach the photo",
    (
        Field(
            "photo_kind",
            "What it shows",
            CHOICE,
            choices=PHOTO_KINDS,
        ),
        Field(
            "photo",
            "Take or choose a photo",
            FILE,
            required=True,
            hint="Kept at up to 1600 pixels and 300 KB, without place and camera data",
            longest=64,
        ),
    ),
)
