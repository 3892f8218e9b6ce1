"""What a changed design means for what is kept for its event. The rooms above know what is kept; they say so through
`ask`. Whoever changes a design calls `say` once it is saved."""

from django.http import HttpRequest
from django.utils.module_loading import import_string

_ASKED: list[str] = []
_TELL: list[str] = []


def ask(follow: str) -> None:
    """The dotted path of a function that lets what is kept follow the design, and says in words what that did and
    whether all is well: `(event id) -> (str, bool)`, without words where nothing is kept or nothing changed."""
    if follow not in _ASKED:
        _ASKED.append(follow)


def followed(event_id: int) -> tuple[str, bool]:
    told = [import_string(path)(event_id) for path in _ASKED]
    return " ".join(words for words, _ in told if words), all(well for _, well in told)


def say(request: HttpRequest, event_id: int, words: str = "", *, warns: bool = False) -> None:
    """For the next page: `words`, which may be a warning, and what the change did to what is kept for the event."""
    kept, well = followed(event_id)
    if told := " ".join(filter(None, [words, kept])):
        request.session["outcome"] = told
    if warns or not well:
        request.session["outcome_warns"] = True


def ask_standing(tell: str) -> None:
    """The dotted path of a function that says how what is kept stands beside the design: `(event id) -> (kind of the
    chip, words)`, without words where there is nothing to say."""
    if tell not in _TELL:
        _TELL.append(tell)


def standing(event_id: int) -> tuple[str, str]:
    found = (import_string(path)(event_id) for path in _TELL)
    return next((told for told in found if told[1]), ("", ""))
