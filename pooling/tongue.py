"""In which language something is drawn or written out.

Whatever is worked out is worked out in English; pages, pictures and files hand each of its sentences to whoever knows
it in another language.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from vl_convert import FormatLocaleName

_SPOKEN: Final = ("title", "label", "reads")  # what of a chart's specification is words

__all__ = ["ENGLISH", "Say", "Tongue", "said_in"]

Say = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Tongue:
    """A language by its code, how an English sentence or name is said in it, and who writes numbers as it does.

    `numbers` is the name of a locale of d3-format, which draws the numbers beside an axis.
    """

    code: str = "en"
    numbers: "FormatLocaleName" = "en-GB"
    say: Say = str


ENGLISH: Final = Tongue()


def said_in(part: Any, say: Say) -> Any:
    """A chart's specification with its titles and labels said by `say`.

    Examples
    --------
    >>> said_in({"layer": [{"title": "day", "field": "label"}], "values": [{"label": "calf", "y": 1}]}, str.upper)
    {'layer': [{'title': 'DAY', 'field': 'label'}], 'values': [{'label': 'CALF', 'y': 1}]}
    """
    if isinstance(part, dict):
        return {
            name: say(inner) if name in _SPOKEN and isinstance(inner, str) else said_in(inner, say)
            for name, inner in part.items()
        }
    return [said_in(inner, say) for inner in part] if isinstance(part, list) else part
