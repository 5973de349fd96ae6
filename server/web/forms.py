"""What every form of the pages has in common: how a refusal of a service comes to stand beside its field."""

from typing import Any

from django import forms

from server.core.errors import ServiceError
from server.web.saying import said

ABOVE = None


class PageForm(forms.Form):
    """A form whose labels do without a colon and whose faults say what to do."""

    use_required_attribute = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **({"label_suffix": ""} | kwargs))

    def refuse(self, refusal: ServiceError) -> None:
        """Put what a service refused beside the fields that it names, and the rest above the form."""
        if not refusal.faults:
            self.add_error(ABOVE, said(refusal.detail))
        for fault in refusal.faults:
            field = fault["pointer"].rsplit("/", 1)[-1]
            self.add_error(field if field in self.fields else ABOVE, said(fault["message"]))

    @property
    def n_faults(self) -> int:
        return sum(len(faults) for faults in self.errors.values())


def missing(what: Any) -> dict[str, Any]:
    return {"required": what}
