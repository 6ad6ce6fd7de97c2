"""Sign-in cards: new passphrases on paper, shown once and never kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.core import signing
from django.http import HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from classroom.models import User
from classroom.papers.addresses import full_address
from classroom.papers.printing import paper_context, pdf_response, press
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from classroom.refusals import Refused
from classroom.signin.passphrases import ALREADY_ISSUED, Card, is_marked, issue_cards


@requires(Action.MANAGE_PEOPLE)
@never_cache
@require_POST
def sign_in_cards(request: Visit, pk: int) -> HttpResponse:
    """New passphrases for the students ticked (`card`: id and mark), or for all without one."""
    course = course_for(request.user, pk)
    seats = course.seats.taken().select_related("student")
    if request.POST.get("who") == "without":
        people = [seat.student for seat in seats.without_passphrase()]
        if not people:
            raise Refused("Every student has a passphrase by now. Tick those who need a new card.")
    else:
        people = _ticked(
            request.POST.getlist("card"), {seat.student_id: seat.student for seat in seats}
        )
    back = reverse("class_list", args=[course.pk])
    with card_maker(request) as make:
        cards = issue_cards(people, acting=request.user)
        return cards_print(request, cards, make, title=str(course), back_url=back)


def _ticked(ticks: list[str], students: dict[int, User]) -> list[User]:
    people = []
    for tick in dict.fromkeys(ticks):
        number, _, mark = tick.partition("-")
        person = students.get(int(number)) if number.isascii() and number.isdigit() else None
        if person is None:
            raise Refused("Somebody ticked is no longer in this course. Look at the list again.")
        if not is_marked(person, mark):
            raise Refused(ALREADY_ISSUED)
        people.append(person)
    if not people:
        raise Refused("Tick the students who need a card.")
    return people


_SALT = "classroom.sign-in-cards"
PAGE_LASTS = 60 * 60  # seconds

Maker = Callable[[str, str], bytes] | None


@contextmanager
def card_maker(request: Visit) -> Iterator[Maker]:
    """What makes the PDF, where the form asks for one (`as=pdf`). Ask before cards are issued.

    Cards never wait in the queue of papers: their passphrases stand nowhere else, and would lie
    on a disk there. Raises Busy while another paper is being made; then nobody has a new card.
    """
    if request.POST.get("as") != "pdf":
        yield None
        return
    with press() as make:
        yield make


@requires(Action.MANAGE_PEOPLE)
@never_cache
@require_POST
def cards_pdf(request: Visit) -> HttpResponse:
    """The cards of a page that is still open, as PDF: the page brings them, sealed."""
    try:
        found = signing.loads(request.POST.get("cards", ""), salt=_SALT, max_age=PAGE_LASTS)
    except signing.BadSignature as error:
        raise Refused("These cards are too old to be printed. Make new ones.") from error
    if found["by"] != request.user.pk:
        raise Refused("These cards were made by somebody else.")
    cards = [
        Card(User(display_name=name, username=username), passphrase, door_code)
        for name, username, passphrase, door_code in found["cards"]
    ]
    with press() as make:
        return cards_print(request, cards, make, title=found["title"], back_url="")


def cards_print(
    request: Visit, cards: list[Card], make: Maker, *, title: str, back_url: str
) -> HttpResponse:
    """The cards as PDF where `make` is given, else as a page to print."""
    context = paper_context(request.user.school) | {
        "cards": cards,
        "title": title,
        "address": full_address(request),
        "back_url": back_url,
    }
    if make is not None:
        html = render_to_string(
            "classroom/signin/cards.html", context | {"pdf": True}, request=request
        )
        return pdf_response(make(html, str(context["paper"])), f"sign-in cards {title}")
    context["sealed"] = _sealed(cards, title, acting=request.user)
    response = render(request, "classroom/signin/cards.html", context)
    response["Cache-Control"] = "private, no-store"
    return response


def _sealed(cards: list[Card], title: str, *, acting: User) -> str:
    """What the page says already, so that it can ask for it as PDF: it stands nowhere else."""
    said = [
        [card.person.display_name, card.person.username, card.passphrase, card.door_code]
        for card in cards
    ]
    return signing.dumps(
        {"by": acting.pk, "title": title, "cards": said}, salt=_SALT, compress=True
    )
