from __future__ import annotations

from django.db import models

from inspections.models.kept_picture import KeptPicture


class PullPhoto(models.Model):
    """A photo named by a pull on record; its file may still be on the way from the phone."""

    id = models.UUIDField(primary_key=True)
    pull = models.ForeignKey("ratings.PullRecord", models.PROTECT, related_name="photos")
    caption = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"photo {self.pk}"


class PullPhotoFile(KeptPicture):
    """The file of a photo of a pull, once it has come whole."""

    photo = models.OneToOneField(PullPhoto, models.PROTECT, related_name="held")
    file = models.FileField(upload_to="pulls/%Y/%m/")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"file of {self.photo}"
