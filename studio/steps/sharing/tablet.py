"""The steps of a shared stock piece, started and signed on a bench tablet."""

from __future__ import annotations

import uuid

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.models import User
from classroom.refusals import Refused
from studio.models import BenchTablet, StockStep, TabletDeed
from studio.queries.shared_stock import share_of, stock_with_shares
from studio.steps.bench.tablet import claim

from .sticking import stick
from .stock_steps import sign, start

What = TabletDeed.What


@transaction.atomic
def sign_common_on_tablet(
    tablet: BenchTablet, step: StockStep, *, what: str, key: uuid.UUID, acting: User
) -> StockStep:
    """The student starts (`What.START`) or signs (`What.DONE`) a step that is done once for all, or
    signs for own papers (`What.STUCK`), once for each key.

    Raises Refused for what the rules refuse, for a tablet that was closed, and for a key that
    another form has used; then the key is free again.
    """
    if not claim(tablet, key, acting=acting, what=what, stock_step=step):
        return StockStep.objects.select_related("plan_stock").get(pk=step.pk)
    if what == What.START:
        return start(step, acting=acting)
    if what == What.DONE:
        return sign(step, acting=acting)
    share = share_of(acting, stock_with_shares(step.plan_stock))
    if share is None:
        raise Refused(_("Only students whose pieces lie on this metal, or their teacher, do that."))
    return stick(step, share, acting=acting)
