"""Image files: originals kept as they came, smaller copies beside them."""

from defectlog.photos.decoding import DecodedPhoto, decode
from defectlog.photos.exif import PhotoMetadata
from defectlog.photos.originals import Incoming, Originals
from defectlog.photos.refusals import (
    DamagedPhotoError,
    EmptyFileError,
    ForeignFileError,
    MissingOriginalError,
    PhotoRefusedError,
    StorageFaultError,
    TooLargeError,
)
from defectlog.photos.renditions import LARGE, SIZES, THUMB, VIEW, PhotoStore, Size
from defectlog.photos.sniff import PhotoFormat, sniff

__all__ = [
    "LARGE",
    "SIZES",
    "THUMB",
    "VIEW",
    "DamagedPhotoError",
    "DecodedPhoto",
    "EmptyFileError",
    "ForeignFileError",
    "Incoming",
    "MissingOriginalError",
    "Originals",
    "PhotoFormat",
    "PhotoMetadata",
    "PhotoRefusedError",
    "PhotoStore",
    "Size",
    "StorageFaultError",
    "TooLargeError",
    "decode",
    "sniff",
]
