"""The body as a way in: regions coloured by a figure that lead to their pages, or regions to choose a site from."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from server.web import body, pages
from server.web.saying import site_labels
from server.web.scale import Scale


@dataclass(frozen=True, slots=True)
class Region:
    """A site in the drawing: what it is called, and what it shows or leads to."""

    patch: body.Patch
    label: str
    step: int | None = None
    says: str = ""
    address: str = ""

    @property
    def slug(self) -> str:
        """The site as a class of the style sheet."""
        return self.patch.site.replace(".", "-").replace("_", "-")


@dataclass(frozen=True, slots=True)
class Figure:
    """One view of the body with its regions, and where it stands in the drawing."""

    key: str
    name: str
    outline: str
    middle: float
    regions: tuple[Region, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Both views side by side."""

    figures: tuple[Figure, ...]
    width: int = body.WIDTH * len(body.VIEWS)
    height: int = body.HEIGHT

    @property
    def regions(self) -> tuple[Region, ...]:
        return tuple(region for figure in self.figures for region in figure.regions)


def _drawing(region: Callable[[body.Patch, str], Region]) -> Drawing:
    labels = site_labels()
    names = {"front": _("front"), "back": _("back")}
    return Drawing(
        tuple(
            Figure(
                key=view.name,
                name=names[view.name],
                outline=view.outline,
                middle=(i + 0.5) * body.WIDTH,
                regions=tuple(region(patch, labels[patch.site]) for patch in view.patches),
            )
            for i, view in enumerate(body.VIEWS)
        )
    )


def to_choose() -> Drawing:
    """The drawing to pick a site from, for `web/_body_choice.html`."""
    return _drawing(lambda patch, label: Region(patch, label))


def coloured(figures: Mapping[str, Mapping[str, Any]], address: Callable[[str], str], scale: Scale) -> Drawing:
    """The drawing for `web/_body_links.html`: each site by its figure, hatched where there is none."""

    def region(patch: body.Patch, label: str) -> Region:
        leads_to = address(patch.site)
        if (figure := figures.get(patch.site)) is None:
            return Region(patch, label, says=_("%(site)s: nothing can be said") % {"site": label}, address=leads_to)
        says = str(scale.says) % {"site": label, "figure": pages.figure(figure).number}
        return Region(patch, label, scale.step_of(figure["value"]), says, leads_to)

    return _drawing(region)
