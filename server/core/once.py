"""Rows that stand as they were written: what was agreed, ruled, decided, looked at or published."""

from typing import Any, NoReturn

from django.db import models


class WrittenOnceError(TypeError):
    """Somebody tried to change or delete a row that is written once; what changes is a further row."""

    def __init__(self, model: type[models.Model]) -> None:
        super().__init__(f"a row of {model.__name__} is neither changed nor deleted; what changes is a further row")


class RowsWrittenOnce(models.QuerySet[Any]):
    def update(self, **_kwargs: Any) -> NoReturn:
        raise WrittenOnceError(self.model)

    def delete(self) -> NoReturn:
        raise WrittenOnceError(self.model)


class RowsForgotten(RowsWrittenOnce):
    def forget(self) -> int:
        """Drop whole rows whose time is over."""
        return int(self._raw_delete(self.db))


class WrittenOnce(models.Model):
    objects = RowsWrittenOnce.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise WrittenOnceError(type(self))
        super().save(*args, **{**kwargs, "force_insert": True})

    def delete(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise WrittenOnceError(type(self))
